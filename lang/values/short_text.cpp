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

}  // namespace

std::string short_text(double value, std::string_view unit) {
  if (std::abs(value) < kNothing) return to_text(0.0, unit);
  return std::isfinite(value) ? to_text(std::nearbyint(value / short_step(value, unit)) * short_step(value, unit), unit)
                              : to_text(value, unit);
}

std::string short_text_down(double value, std::string_view unit, double noise) {
  if (!std::isfinite(value)) return to_text(value, unit);
  if (std::abs(value) <= noise) return to_text(0.0, unit);
  const double step = short_step(value, unit);
  return to_text(std::floor(value / step + std::clamp(noise / step, kRounding, 0.5)) * step, unit);
}

std::string counted(std::size_t count, std::string_view word) {
  return std::to_string(count) + " " + std::string(word) + (count == 1 ? "" : "s");
}

}  // namespace rampart
