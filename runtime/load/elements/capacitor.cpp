#include "runtime/load/elements/capacitor.h"

#include "runtime/load/elements/branch.h"
#include "runtime/load/elements/element_kind.h"

namespace rampart {
namespace {

using circuit::BranchOf;
using circuit::Flow;
using circuit::Slopes;

// One state: the voltage behind the series resistance. Without one the capacitance is the port's.
class CapacitorBranch final : public BranchOf<CapacitorBranch> {
 public:
  explicit CapacitorBranch(const circuit::Capacitor& part)
      : part_(part), leak_(part.leakage ? 1 / *part.leakage : 0), own_(part.esr > 0) {}
  std::size_t state_count() const override { return own_ ? 1 : 0; }
  void start(double* state) const override {
    if (own_) state[0] = part_.initial_voltage;
  }
  Flow flow(double volts, const double* state) const override {
    if (!own_) return {volts * leak_, leak_};
    return {(volts - state[0]) / part_.esr, 1 / part_.esr};
  }
  void rates(double volts, const double* state, double* rates) const override {
    if (own_) rates[0] = ((volts - state[0]) / part_.esr - state[0] * leak_) / part_.capacitance;
  }
  Slopes slopes(double, const double*) const override {
    if (!own_) return {};
    const double conductance = 1 / part_.esr;
    return {-conductance, conductance / part_.capacitance, -(conductance + leak_) / part_.capacitance};
  }
  double flow_rate(double, double volts_rate, const double*, const double* rates) const override {
    return own_ ? (volts_rate - rates[0]) / part_.esr : volts_rate * leak_;
  }
  double port_capacitance() const override { return own_ ? 0 : part_.capacitance; }
  double port_voltage() const override { return part_.initial_voltage; }
  double held(double volts, const double* state) const override { return own_ ? state[0] : volts; }
  double stored(const double* state) const override { return own_ ? part_.capacitance * state[0] * state[0] / 2 : 0; }
  double stored_slope(const double* state) const override { return own_ ? part_.capacitance * state[0] : 0; }
  double loss(double volts, const double* state) const override {
    if (!own_) return volts * volts * leak_;
    const double across = volts - state[0];
    return across * across / part_.esr + state[0] * state[0] * leak_;
  }

 private:
  circuit::Capacitor part_;
  double leak_;
  bool own_;
};

circuit::Capacitor nominal(const CapacitorElement& element) {
  std::optional<double> leakage;
  if (element.leakage) leakage = element.leakage->nominal;
  return {element.capacitance.nominal, element.esr.nominal, leakage, element.initial_voltage};
}

}  // namespace

const ElementKind<CapacitorElement>& CapacitorElement::kind() {
  using Field = ElementField<CapacitorElement>;
  static const ElementKind<CapacitorElement> kKind{
      "capacitor",
      "{kind: capacitor, capacitance: 470 uF +- 20 %, esr: 50 mOhm}",
      {
          Field::required("capacitance", &CapacitorElement::capacitance, dimension::kCapacitance, Bound::Positive),
          Field::optional("esr", &CapacitorElement::esr, dimension::kResistance, Bound::NotNegative),
          Field::optional("leakage", &CapacitorElement::leakage, dimension::kResistance, Bound::Positive),
          Field::optional("initial_voltage", &CapacitorElement::initial_voltage, dimension::kVoltage,
                          Bound::NotNegative),
      }};
  return kKind;
}

circuit::LinearPart CapacitorElement::linear() const {
  return nominal(*this);
}

std::unique_ptr<circuit::Branch> CapacitorElement::branch() const {
  return std::make_unique<CapacitorBranch>(nominal(*this));
}

}  // namespace rampart
