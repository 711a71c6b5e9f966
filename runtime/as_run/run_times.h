#pragma once

#include <cmath>
#include <cstdint>
#include <string>
#include <string_view>

#include "lang/values/quantity.h"

// Times of a run as this room counts and shows them.
namespace rampart {

// The segment after a trip or a stop.
inline constexpr std::string_view kSafeSegment = "safe";
// Why a rule or an expectation is not observed, though its rails were read.
inline constexpr const char* kUnmetered =
    "nothing says how well they were measured: give `readback` in the bench file or meters in the log description";
// Rows within this of each other are as late as each other, s.
inline constexpr double kSameLate = 0.5e-3;

[[nodiscard]] inline double in_seconds(Nanoseconds time) {
  return static_cast<double>(time.count()) / 1e9;
}

// All outputs were switched off at once: the rest of `safe` is not played.
[[nodiscard]] inline bool ends_safe(std::string_view word, std::string_view rest) {
  return word == "stop" && rest.starts_with("all outputs off at once");
}

// To the millisecond: "1.234 s".
[[nodiscard]] inline std::string time_text(double seconds) {
  return to_text(std::round(seconds * 1e3) / 1e3, "s");
}

// A time of a log as the log has it: in seconds, also where there are many. By default to the millisecond.
[[nodiscard]] inline std::string log_time_text(double seconds, int decimals = 3) {
  constexpr double kAsWell = 60;  // s
  const double scale = std::pow(10, decimals);
  if (std::abs(seconds) < kAsWell) return to_text(std::round(seconds * scale) / scale, "s");
  const std::int64_t units = std::llround(std::abs(seconds) * scale);
  std::string digits = std::to_string(units);
  digits.insert(digits.size() - static_cast<std::size_t>(decimals), ".");
  digits.erase(digits.find_last_not_of('0') + 1);
  if (digits.ends_with('.')) digits.pop_back();
  return (seconds < 0 ? "-" : "") + digits + " s";
}

}  // namespace rampart
