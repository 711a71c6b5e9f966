#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "lang/rational.h"

namespace rampart {

// How counts of one resolution are written in its unit: `count · factor`, with the point `decimals` digits from the
// right. A resolution of 0.25 V has factor 25 and 2 decimals.
struct DecimalScale {
  std::int64_t factor = 1;
  int decimals = 0;
};

// Resolutions come from bench files, which allow at most nine decimals.
[[nodiscard]] DecimalScale decimal_scale(const Rational& resolution);

// Appends `number` with its point `decimals` digits from the right: (-1234, 3) gives "-1.234". Never "-0".
void append_decimal(std::int64_t number, int decimals, std::string& text);
// The same without zeros at the end of the fraction: (1500, 3) gives "1.5", (2000, 3) gives "2".
void append_short_decimal(std::int64_t number, int decimals, std::string& text);

// The shortest decimal that is exactly `value`. Empty if none is, or none of 18 decimals or fewer and 64 bits.
[[nodiscard]] std::optional<std::string> exact_decimal(const Rational& value);

}  // namespace rampart
