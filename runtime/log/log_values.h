#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string_view>

#include "lang/values/quantity.h"

// The fields of a log as values. None knows the locale.
namespace rampart {

// Larger readings and times, by magnitude, are mistakes, V, A and s.
inline constexpr double kLargestReading = 1e12;
// The times of a log lie within so long of its first one: 140 years, which a clock that begins at 1900 and is set later
// does not exceed. The time from any one to any other then fits into Nanoseconds.
inline constexpr Nanoseconds kLongestLog = std::chrono::seconds(4'400'000'000);

enum class LogTimeFormat : std::uint8_t { Seconds, Milliseconds, Days, Iso8601 };

using Date = std::chrono::year_month_day;

// "2027-01-31".
[[nodiscard]] std::optional<Date> parse_date(std::string_view text);
[[nodiscard]] std::string date_text(const Date& date);

// "+01:00", "-0330" or "Z".
[[nodiscard]] std::optional<Nanoseconds> parse_offset(std::string_view text);

// A time as a log has it, in whole nanoseconds. Dates with a time of day (ISO 8601, extended form) count from 1970 UTC;
// one without an offset needs `offset`. Empty for what is no such time, or beyond 292 years.
[[nodiscard]] std::optional<Nanoseconds> parse_log_time(std::string_view text, LogTimeFormat format, bool decimal_comma,
                                                        const std::optional<Nanoseconds>& offset);
// Whether a log that begins at `first` may have this time.
[[nodiscard]] bool is_in_log(Nanoseconds time, Nanoseconds first);

// What a numeric field holds.
struct LogNumber {
  enum class Is : std::uint8_t { Value, Missing, Wrong };
  Is is = Is::Missing;
  double value = 0;
};
// Missing: an empty field, NaN, an infinity, and what SCPI-1999 (7.2.1.4 and 7.2.1.5) writes for these: 9.9E37 and
// 9.91E37. Wrong: anything else that is no number, and what exceeds kLargestReading.
[[nodiscard]] LogNumber parse_log_number(std::string_view text, bool decimal_comma);

}  // namespace rampart
