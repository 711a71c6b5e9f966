#include "lang/values/short_text.h"

#include <algorithm>
#include <cmath>

#include "lang/values/quantity.h"

namespace rampart {
namespace {

constexpr int kShortDigits = 4;
// Of a step: what calculating leaves below a round number.
constexpr double kRounding = 1e-6;

// Below a thousandth of the least SI prefix that texts have there is nothing to show.
constexpr double kNothing = 1e-15;

// The last place that is shown.
double short_step(double value, std::string_view unit) {
  if (value == 0) return 1;
  if (unit == "s" && std::abs(value) >= 60.0) return 1;
  return std::pow(10.0, std::floor(std::log10(std::abs(value))) - (kShortDigits - 1));
}

// To the last place that is shown; as it is where it is no number.
double rounded_down(double value, std::string_view unit, double noise) {
  if (!std::isfinite(value)) return value;
  if (std::abs(value) <= noise) return 0;
  const double step = short_step(value, unit);
  return std::floor(value / step + std::clamp(noise / step, kRounding, 0.5)) * step;
}

}  // namespace

std::string short_text(double value, std::string_view unit) {
  if (std::abs(value) < kNothing) return to_text(0.0, unit);
  return std::isfinite(value) ? to_text(std::nearbyint(value / short_step(value, unit)) * short_step(value, unit), unit)
                              : to_text(value, unit);
}

std::string short_text_down(double value, std::string_view unit, double noise) {
  return to_text(rounded_down(value, unit, noise), unit);
}

std::string short_text_up(double value, std::string_view unit, double noise) {
  const double less = rounded_down(-value, unit, noise);
  return to_text(less == 0 ? 0.0 : -less, unit);
}

std::string counted(std::size_t count, std::string_view word) {
  return std::to_string(count) + " " + std::string(word) + (count == 1 ? "" : "s");
}

}  // namespace rampart
