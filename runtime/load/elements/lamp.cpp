#include "runtime/load/elements/lamp.h"

#include <algorithm>
#include <cmath>

#include "runtime/load/elements/branch.h"
#include "runtime/load/elements/element_kind.h"

namespace rampart {
namespace {

using circuit::BranchOf;
using circuit::Flow;
using circuit::Slopes;

// One state: the temperature over the cold one.
class LampBranch final : public BranchOf<LampBranch> {
 public:
  explicit LampBranch(const LampElement& part) : part_(part) {
    const double hot = part.rated_voltage.nominal * part.rated_voltage.nominal / part.rated_power.nominal;
    const double rise = std::pow(hot / part.cold_resistance.nominal, 1 / part.exponent);
    radiation_ = part.rated_power.nominal / (std::pow(rise, 4) - 1);
  }
  std::size_t state_count() const override { return 1; }
  void start(double* state) const override { state[0] = 1; }
  Flow flow(double volts, const double* state) const override {
    const double conductance = 1 / resistance(state[0]);
    return {volts * conductance, conductance};
  }
  void rates(double volts, const double* state, double* rates) const override {
    const double squared = state[0] * state[0];
    const double heat = volts * volts / resistance(state[0]) - radiation_ * (squared * squared - 1);
    rates[0] = heat / (part_.heat_capacity.nominal * part_.cold_temperature);
  }
  Slopes slopes(double volts, const double* state) const override {
    const double temperature = std::max(state[0], kColdest);
    const double conductance = 1 / resistance(temperature);
    // How the conductance falls with the temperature.
    const double fall = state[0] > kColdest ? part_.exponent * conductance / temperature : 0;
    const double capacity = part_.heat_capacity.nominal * part_.cold_temperature;
    const double radiated = 4 * radiation_ * state[0] * state[0] * state[0];
    return {-volts * fall, 2 * volts * conductance / capacity, -(volts * volts * fall + radiated) / capacity};
  }
  double flow_rate(double volts, double volts_rate, const double* state, const double* rates) const override {
    const double warming = part_.exponent * rates[0] / state[0];
    return (volts_rate - volts * warming) / resistance(state[0]);
  }

 private:
  double resistance(double temperature) const {
    return part_.cold_resistance.nominal * std::pow(std::max(temperature, kColdest), part_.exponent);
  }
  // Only trial steps of the solver go below.
  static constexpr double kColdest = 0.1;

  LampElement part_;
  double radiation_ = 0;  // k T0^4, W
};

// A filament at its rated point is hotter than a cold one, so its resistance is the larger, in every corner.
void check(const LampElement& element, const ElementPlace& place) {
  const double hot = element.rated_voltage.low * element.rated_voltage.low / element.rated_power.high;
  if (element.cold_resistance.high < hot) return;
  place
      .conflict("cold_resistance", to_text(element.cold_resistance.high, "Ohm"), "rated_voltage² / rated_power",
                to_text(hot, "Ohm"))
      .hint("a cold filament has less resistance than a lit one");
}

}  // namespace

const ElementKind<LampElement>& LampElement::kind() {
  using Field = ElementField<LampElement>;
  static const ElementKind<LampElement> kKind{
      "lamp",
      "{kind: lamp, rated_voltage: 12 V, rated_power: 5 W +- 10 %, cold_resistance: 2.5 Ohm, heat_capacity: 10 mJ/K}",
      {
          Field::required("rated_voltage", &LampElement::rated_voltage, dimension::kVoltage, Bound::Positive),
          Field::required("rated_power", &LampElement::rated_power, dimension::kPower, Bound::Positive),
          Field::required("cold_resistance", &LampElement::cold_resistance, dimension::kResistance, Bound::Positive),
          Field::required("heat_capacity", &LampElement::heat_capacity, dimension::kHeatCapacity, Bound::Positive),
          Field::optional("cold_temperature", &LampElement::cold_temperature, dimension::kTemperature, Bound::Positive),
          Field::optional("exponent", &LampElement::exponent, dimension::kNone, Bound::Positive),
      },
      check};
  return kKind;
}

std::unique_ptr<circuit::Branch> LampElement::branch() const {
  return std::make_unique<LampBranch>(*this);
}

std::optional<CapacitorElement> LampElement::left_when_off(double /*port_voltage*/) const {
  return std::nullopt;
}

}  // namespace rampart
