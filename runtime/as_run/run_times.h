#pragma once

#include <cmath>
#include <string>
#include <string_view>

#include "lang/values/quantity.h"

// Times of a run as this room counts and shows them.
namespace rampart {

// The segment after a trip or a stop.
inline constexpr std::string_view kSafeSegment = "safe";
// Rows within this of each other are as late as each other, s.
inline constexpr double kSameLate = 0.5e-3;

[[nodiscard]] inline double in_seconds(Nanoseconds time) {
  return static_cast<double>(time.count()) / 1e9;
}

// To the millisecond: "1.234 s".
[[nodiscard]] inline std::string time_text(double seconds) {
  return to_text(std::round(seconds * 1e3) / 1e3, "s");
}

}  // namespace rampart
