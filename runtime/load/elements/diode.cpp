#include "runtime/load/elements/diode.h"

#include <algorithm>
#include <cmath>

#include "runtime/load/elements/branch.h"
#include "runtime/load/elements/element_kind.h"

namespace rampart {
namespace {

using circuit::BranchOf;
using circuit::Flow;

// Boltzmann's constant over the elementary charge, V/K; both are exact in the SI of 2019.
constexpr double kThermalVoltsPerKelvin = 1.380649e-23 / 1.602176634e-19;
constexpr std::int64_t kMaxInSeries = 1'000'000;

struct Junctions {
  double saturation_current = 0;
  double scale = 0;  // V: in_series * ideality * k T / q
  double series_resistance = 0;
};

class DiodeBranch final : public BranchOf<DiodeBranch> {
 public:
  explicit DiodeBranch(const Junctions& part) : part_(part) {}
  Flow flow(double volts, const double*) const override {
    if (part_.series_resistance == 0) return junction(volts);
    const double across = junction_voltage(volts);
    Flow result = junction(across);
    if (across > 0) result.current = (volts - across) / part_.series_resistance;
    result.slope = result.slope / (1 + part_.series_resistance * result.slope);
    return result;
  }

 private:
  // Currents beyond this are only met in trial steps; the exponential goes on straight there.
  static constexpr double kSteepest = 300;

  Flow junction(double volts) const {
    const double share = volts / part_.scale;
    const double grown = std::expm1(std::min(share, kSteepest));
    const double slope = part_.saturation_current * (grown + 1) / part_.scale;
    const double current = part_.saturation_current * grown;
    if (share <= kSteepest) return {current, slope};
    return {current + slope * (volts - kSteepest * part_.scale), slope};
  }

  // w + R i(w) = volts. The left side is convex, so Newton's method from above the root comes down without a bracket.
  double junction_voltage(double volts) const {
    const double resistance = part_.series_resistance;
    double across = volts;
    if (volts > 0) {
      const double by_resistance = part_.scale * std::log1p(volts / (resistance * part_.saturation_current));
      across = std::min(volts, by_resistance);
    }
    for (int step = 0; step < 100; ++step) {
      const Flow flow = junction(across);
      const double change = (across + resistance * flow.current - volts) / (1 + resistance * flow.slope);
      across -= change;
      if (std::abs(change) <= 1e-15 * (std::abs(across) + part_.scale)) break;
    }
    return across;
  }

  Junctions part_;
};

}  // namespace

const ElementKind<DiodeElement>& DiodeElement::kind() {
  using Field = ElementField<DiodeElement>;
  static const ElementKind<DiodeElement> kKind{
      "diode",
      {
          Field::required("saturation_current", &DiodeElement::saturation_current, dimension::kCurrent,
                          Bound::Positive),
          Field::required("ideality", &DiodeElement::ideality, dimension::kNone, Bound::Positive),
          Field::count("in_series", &DiodeElement::in_series, kMaxInSeries),
          Field::optional("series_resistance", &DiodeElement::series_resistance, dimension::kResistance,
                          Bound::NotNegative),
          Field::optional("temperature", &DiodeElement::temperature, dimension::kTemperature, Bound::Positive),
      }};
  return kKind;
}

std::unique_ptr<circuit::Branch> DiodeElement::branch() const {
  const double thermal = kThermalVoltsPerKelvin * temperature;
  return std::make_unique<DiodeBranch>(
      Junctions{saturation_current.nominal, in_series * ideality.nominal * thermal, series_resistance.nominal});
}

}  // namespace rampart
