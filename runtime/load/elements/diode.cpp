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

// Wright's omega function of a real number: the w for which w + ln w = z. Two steps of fourth order from a start that
// is right to some percent (P. W. Lawrence, R. M. Corless, D. J. Jeffrey, Algorithm 917, ACM Transactions on
// Mathematical Software 38, 2012).
double omega(double z) {
  // w = e^z (1 - w + ...): below, what follows the first term is less than rounding.
  if (z < -40) return std::exp(z);
  double w = z;
  if (z < -1) {
    w = std::exp(z);
    w = w * (1 - w) / (1 - w * w);
  } else if (z < 3) {
    const double from = z - 1;
    w = 1 + from * (0.5 + from * (1.0 / 16 - from / 192));
  } else {
    w = z - std::log(z) * (1 - 1 / z);
  }
  for (int step = 0; step < 2; ++step) {
    const double rest = z - w - std::log(w);
    const double next = w + 1;
    const double twice = 2 * next * (next + rest * (2.0 / 3));
    w *= 1 + rest / next * (twice - rest) / (twice - 2 * rest);
  }
  return w;
}

// With a resistance R in series the voltage across the junctions is w in w + R I_s (exp(w / s) - 1) = v. What R I_s
// exp(w / s) / s is, u, follows from u + ln u = (v + R I_s) / s + ln(R I_s / s) without a search.
class DiodeBranch final : public BranchOf<DiodeBranch> {
 public:
  explicit DiodeBranch(const Junctions& part)
      : part_(part),
        offset_(part.series_resistance * part.saturation_current / part.scale),
        log_offset_(offset_ > 0 ? std::log(offset_) : 0) {}
  Flow flow(double volts, const double*) const override {
    // At 0 V nothing flows, not even rounding, which an output at rest would take for a load that feeds it.
    if (part_.series_resistance == 0 || volts == 0) {
      const Flow bare = junction(volts);
      return {bare.current, bare.slope / (1 + part_.series_resistance * bare.slope)};
    }
    const double grown = omega(volts / part_.scale + offset_ + log_offset_);
    const double across = volts + part_.scale * (offset_ - grown);
    const double slope = grown / (1 + grown) / part_.series_resistance;
    // Far below the knee the current is a small difference of `grown` and `offset_`, but the junction alone takes v.
    if (across < part_.scale) return {junction(across).current, slope};
    return {part_.scale * (grown - offset_) / part_.series_resistance, slope};
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

  Junctions part_;
  double offset_;  // R I_s / s
  double log_offset_;
};

}  // namespace

const ElementKind<DiodeElement>& DiodeElement::kind() {
  using Field = ElementField<DiodeElement>;
  static const ElementKind<DiodeElement> kKind{
      "diode",
      "{kind: diode, saturation_current: 1 nA +- 50 %, ideality: 1.8}",
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
