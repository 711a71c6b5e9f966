#pragma once

#include <algorithm>
#include <cmath>

#include "lang/values/rational.h"

namespace rampart {

// The exact value, or where it does not fit in 128 bits, the multiple of 1e-9 that is nearest to `near`.
[[nodiscard]] inline Rational fitting(const Rational& exact, double near) {
  constexpr double kLargest = 9e9;
  if (!exact.overflowed()) return exact;
  return Rational::fraction(std::llround(std::clamp(near, -kLargest, kLargest) * 1e9), 1'000'000'000);
}

}  // namespace rampart
