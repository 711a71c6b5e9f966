#include "runtime/log/log_values.h"

#include <array>
#include <charconv>
#include <cmath>
#include <limits>
#include <string>

#include "lang/text/trimmed.h"
#include "lang/values/rational.h"

namespace rampart {
namespace {

constexpr std::size_t kMostNumberBytes = 64;
constexpr std::int64_t kSecond = 1'000'000'000;
constexpr Int128 kLargestTime = std::numeric_limits<std::int64_t>::max();

bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

// A number of `count` digits at the front, which is taken away.
std::optional<int> take_digits(std::string_view& text, std::size_t count) {
  if (text.size() < count) return std::nullopt;
  int value = 0;
  for (std::size_t i = 0; i < count; ++i) {
    if (!is_digit(text[i])) return std::nullopt;
    value = 10 * value + (text[i] - '0');
  }
  text.remove_prefix(count);
  return value;
}

bool take(std::string_view& text, char c) {
  if (!text.starts_with(c)) return false;
  text.remove_prefix(1);
  return true;
}

std::optional<Date> take_date(std::string_view& text) {
  const std::optional<int> year = take_digits(text, 4);
  if (!year || !take(text, '-')) return std::nullopt;
  const std::optional<int> month = take_digits(text, 2);
  if (!month || !take(text, '-')) return std::nullopt;
  const std::optional<int> day = take_digits(text, 2);
  if (!day) return std::nullopt;
  const Date date{std::chrono::year{*year}, std::chrono::month{static_cast<unsigned>(*month)},
                  std::chrono::day{static_cast<unsigned>(*day)}};
  if (!date.ok()) return std::nullopt;
  return date;
}

// Digits after the point, as nanoseconds; what is finer is cut off.
std::optional<std::int64_t> take_fraction(std::string_view& text) {
  std::int64_t value = 0;
  std::int64_t unit = kSecond / 10;
  std::size_t count = 0;
  while (!text.empty() && is_digit(text.front())) {
    value += unit * (text.front() - '0');
    unit /= 10;
    ++count;
    text.remove_prefix(1);
  }
  if (count == 0) return std::nullopt;
  return value;
}

std::optional<Nanoseconds> take_time_of_day(std::string_view& text) {
  const std::optional<int> hour = take_digits(text, 2);
  if (!hour || *hour > 24 || !take(text, ':')) return std::nullopt;
  const std::optional<int> minute = take_digits(text, 2);
  if (!minute || *minute > 59 || !take(text, ':')) return std::nullopt;
  const std::optional<int> second = take_digits(text, 2);
  if (!second || *second > 60) return std::nullopt;
  std::int64_t fraction = 0;
  if (take(text, '.') || take(text, ',')) {
    const std::optional<std::int64_t> read = take_fraction(text);
    if (!read) return std::nullopt;
    fraction = *read;
  }
  return Nanoseconds{(std::int64_t{*hour} * 3600 + std::int64_t{*minute} * 60 + *second) * kSecond + fraction};
}

std::optional<Nanoseconds> parse_iso_time(std::string_view text, const std::optional<Nanoseconds>& offset) {
  const std::optional<Date> date = take_date(text);
  if (!date || (!take(text, 'T') && !take(text, ' '))) return std::nullopt;
  // Nanoseconds since 1970 reach to 2262 and back to 1677.
  if (date->year() < std::chrono::year{1700} || date->year() > std::chrono::year{2250}) return std::nullopt;
  const std::optional<Nanoseconds> time = take_time_of_day(text);
  if (!time) return std::nullopt;
  const std::optional<Nanoseconds> ahead = text.empty() ? offset : parse_offset(text);
  if (!ahead) return std::nullopt;
  return std::chrono::sys_days(*date).time_since_epoch() + *time - *ahead;
}

// An exact decimal number of units of `unit` ns.
std::optional<Nanoseconds> parse_plain_time(std::string_view text, std::int64_t unit, bool decimal_comma) {
  constexpr int kMostDecimals = 15;
  const bool negative = take(text, '-');
  if (!negative) take(text, '+');
  Int128 value = 0;
  Int128 scale = 1;
  bool any = false;
  bool in_fraction = false;
  int decimals = 0;
  for (const char c : text) {
    if (!in_fraction && (c == '.' || (decimal_comma && c == ','))) {
      in_fraction = true;
      continue;
    }
    if (!is_digit(c)) return std::nullopt;
    any = true;
    if (in_fraction && ++decimals > kMostDecimals) continue;
    value = 10 * value + (c - '0');
    if (in_fraction) scale *= 10;
    if (value / scale > kLargestTime / unit) return std::nullopt;
  }
  if (!any) return std::nullopt;
  const Int128 nanoseconds = (value * unit + scale / 2) / scale;
  if (nanoseconds > kLargestTime) return std::nullopt;
  return Nanoseconds{static_cast<std::int64_t>(negative ? -nanoseconds : nanoseconds)};
}

// One with an exponent, as some loggers write it.
std::optional<Nanoseconds> parse_float_time(std::string_view text, std::int64_t unit, bool decimal_comma) {
  const LogNumber number = parse_log_number(text, decimal_comma);
  if (number.is != LogNumber::Is::Value) return std::nullopt;
  const double nanoseconds = number.value * static_cast<double>(unit);
  if (std::abs(nanoseconds) > 9e18) return std::nullopt;
  return Nanoseconds{std::llround(nanoseconds)};
}

std::int64_t unit_of(LogTimeFormat format) {
  switch (format) {
    case LogTimeFormat::Milliseconds:
      return kSecond / 1000;
    case LogTimeFormat::Days:
      return 86'400 * kSecond;
    default:
      return kSecond;
  }
}

}  // namespace

std::optional<Date> parse_date(std::string_view text) {
  const std::optional<Date> date = take_date(text);
  if (!text.empty()) return std::nullopt;
  return date;
}

std::string date_text(const Date& date) {
  const auto two = [](unsigned number) {
    std::string text = std::to_string(number);
    return text.size() < 2 ? "0" + text : text;
  };
  return std::to_string(static_cast<int>(date.year())) + "-" + two(static_cast<unsigned>(date.month())) + "-" +
         two(static_cast<unsigned>(date.day()));
}

std::optional<Nanoseconds> parse_offset(std::string_view text) {
  if (text == "Z") return Nanoseconds{0};
  const bool negative = text.starts_with('-');
  if (!take(text, '+') && !take(text, '-')) return std::nullopt;
  const std::optional<int> hours = take_digits(text, 2);
  if (!hours || *hours > 14) return std::nullopt;
  int minutes = 0;
  if (!text.empty()) {
    take(text, ':');
    const std::optional<int> read = take_digits(text, 2);
    if (!read || *read > 59 || !text.empty()) return std::nullopt;
    minutes = *read;
  }
  const Nanoseconds offset{(std::int64_t{*hours} * 60 + minutes) * 60 * kSecond};
  return negative ? -offset : offset;
}

std::optional<Nanoseconds> parse_log_time(std::string_view text, LogTimeFormat format, bool decimal_comma,
                                          const std::optional<Nanoseconds>& offset) {
  text = trimmed(text);
  if (text.empty() || text.size() > kMostNumberBytes) return std::nullopt;
  if (format == LogTimeFormat::Iso8601) return parse_iso_time(text, offset);
  const std::int64_t unit = unit_of(format);
  const bool has_exponent = text.find_first_of("eE") != std::string_view::npos;
  return has_exponent ? parse_float_time(text, unit, decimal_comma) : parse_plain_time(text, unit, decimal_comma);
}

bool is_in_log(Nanoseconds time, Nanoseconds first) {
  const Int128 away = Int128{time.count()} - first.count();
  return away <= kLongestLog.count() && away >= -kLongestLog.count();
}

LogNumber parse_log_number(std::string_view text, bool decimal_comma) {
  using Is = LogNumber::Is;
  text = trimmed(text);
  if (text.empty()) return {};
  if (text.starts_with('+')) text.remove_prefix(1);
  std::array<char, kMostNumberBytes> copy{};
  if (decimal_comma && text.find(',') != std::string_view::npos) {
    if (text.size() > copy.size()) return {Is::Wrong, 0};
    for (std::size_t i = 0; i < text.size(); ++i) copy[i] = text[i] == ',' ? '.' : text[i];
    text = std::string_view(copy.data(), text.size());
  }
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size()) return {Is::Wrong, 0};
  if (!std::isfinite(value)) return {};
  constexpr double kInfinity = 9.9e37;
  constexpr double kNotANumber = 9.91e37;
  if (std::abs(value) == kInfinity || value == kNotANumber) return {};
  if (std::abs(value) > kLargestReading) return {Is::Wrong, 0};
  return {Is::Value, value};
}

}  // namespace rampart
