#include "runtime/predict/delay_settings.h"

#include <algorithm>

namespace rampart {
namespace {

// A multiple that is missed by less than this share of a step is met.
constexpr double kRounding = 1e-6;

}  // namespace

std::optional<double> DelaySettings::at_least(double time) const {
  const double found = std::max(low, std::ceil(time / step - kRounding) * step);
  return found <= high * (1 + kRounding) ? std::optional(found) : std::nullopt;
}

double DelaySettings::at_most(double time) const {
  const double found = std::min(std::floor(time / step + kRounding) * step, high);
  return found >= low * (1 - kRounding) ? found : 0;
}

double DelaySettings::below(double time) const {
  return at_most((std::ceil(time / step - kRounding) - 1) * step);
}

DelaySettings delay_settings(const std::optional<Placed<SteppedRange<Seconds>>>& given) {
  DelaySettings settings;
  if (!given) return settings;
  settings.low = given->value.range.low.to_double();
  settings.high = given->value.range.high.to_double();
  if (given->value.step.si.sign() > 0) settings.step = given->value.step.to_double();
  return settings;
}

}  // namespace rampart
