#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>

#include "lang/values/rational.h"

namespace rampart {

// How counts of one resolution are written in its unit: `count · factor`, with the point `decimals` digits from the
// right. A resolution of 0.25 V has factor 25 and 2 decimals.
struct DecimalScale {
  std::int64_t factor = 1;
  int decimals = 0;
};

// A time in s, down to nanoseconds.
inline constexpr int kTimeDecimals = 9;

// Resolutions come from bench files, which allow at most nine decimals.
[[nodiscard]] DecimalScale decimal_scale(const Rational& resolution);

// Room for any number of write_decimal().
inline constexpr std::size_t kLongestDecimal = 32;

// Writes `number` with its point `decimals` digits from the right to `at`, where there is room for kLongestDecimal
// characters: (-1234, 3) gives "-1.234". Never "-0". `decimals` is at most 18. Gives the end.
[[nodiscard]] char* write_decimal(std::int64_t number, int decimals, char* at);
// Writes a number below 10^digits with its zeros in front.
[[nodiscard]] char* write_digits(std::uint64_t number, int digits, char* at);
// The same for nine digits.
[[nodiscard]] char* write_nine_digits(std::uint32_t number, char* at);
// The end of a decimal that has a point, without the zeros at the end of its fraction, and without a point at the end.
[[nodiscard]] char* without_zeros(char* end);

// Appends `number` with its point `decimals` digits from the right: (-1234, 3) gives "-1.234". Never "-0".
void append_decimal(std::int64_t number, int decimals, std::string& text);
// The same without zeros at the end of the fraction: (1500, 3) gives "1.5", (2000, 3) gives "2".
void append_short_decimal(std::int64_t number, int decimals, std::string& text);

// The shortest decimal that is exactly `value`. Empty if none is, or none of 18 decimals or fewer and 64 bits.
[[nodiscard]] std::optional<std::string> exact_decimal(const Rational& value);

}  // namespace rampart
