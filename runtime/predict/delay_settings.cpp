#include "runtime/predict/delay_settings.h"

#include <algorithm>

namespace rampart {
namespace {

// A multiple that is missed by less than this share of a step is met.
constexpr double kRounding = 1e-6;
constexpr double kFinestStep = 1e-6;  // s
constexpr int kDigits = 4;

}  // namespace

// Texts have six digits: what is finer would be rounded to a delay that is too short.
double DelaySettings::step_at(double time) const {
  if (step) return *step;
  return time > 0 ? std::max(kFinestStep, std::pow(10.0, std::floor(std::log10(time)) - (kDigits - 1))) : kFinestStep;
}

std::optional<double> DelaySettings::at_least(double time) const {
  const double fine = step_at(time);
  const double found = std::max(low, std::ceil(time / fine - kRounding) * fine);
  return found <= high * (1 + kRounding) ? std::optional(found) : std::nullopt;
}

double DelaySettings::at_most(double time) const {
  const double fine = step_at(time);
  const double found = std::min(std::floor(time / fine + kRounding) * fine, high);
  return found >= low * (1 - kRounding) ? found : 0;
}

double DelaySettings::below(double time) const {
  const double fine = step_at(time);
  return at_most((std::ceil(time / fine - kRounding) - 1) * fine);
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
