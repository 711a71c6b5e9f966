#pragma once

#include <cmath>

// Figures of a fit with the digits that they have: more say nothing, and depend on the compiler.
namespace rampart::fit {

// `value` to the place of the last of so many digits of `error`, by std::round, std::ceil or the like.
[[nodiscard]] inline double rounded_by(double value, double error, int digits, double (*round)(double) = std::round) {
  if (error == 0 || !std::isfinite(error)) return value;
  const double place = std::floor(std::log10(std::abs(error))) - (digits - 1);
  // Dividing by a power of ten gives the nearest number that has so few digits.
  const double power = std::pow(10, std::abs(place));
  return place < 0 ? round(value * power) / power : round(value / power) * power;
}

// To so many digits of its own.
[[nodiscard]] inline double rounded_to(double value, int digits) {
  return rounded_by(value, value, digits);
}

}  // namespace rampart::fit
