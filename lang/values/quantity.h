#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "lang/values/rational.h"
#include "lang/values/unit.h"

namespace rampart {

// Time from the start of a run or segment. Signed 64 bits of nanoseconds reach 292 years.
using Nanoseconds = std::chrono::nanoseconds;

// An exact value in SI units with its dimension.
struct Quantity {
  Rational value;
  Dimension dimension;

  friend bool operator==(const Quantity&, const Quantity&) = default;
};

// An exact value in the SI unit of one dimension, so that volts cannot be passed for amperes.
template <Dimension kDimension>
struct Measure {
  Rational si;

  [[nodiscard]] Quantity quantity() const { return {si, kDimension}; }
  [[nodiscard]] double to_double() const { return si.to_double(); }
  friend Measure operator+(const Measure& a, const Measure& b) { return {a.si + b.si}; }
  friend Measure operator-(const Measure& a, const Measure& b) { return {a.si - b.si}; }
  friend Measure operator-(const Measure& a) { return {-a.si}; }
  friend Measure operator*(const Measure& a, const Rational& k) { return {a.si * k}; }
  friend auto operator<=>(const Measure&, const Measure&) = default;
  friend bool operator==(const Measure&, const Measure&) = default;
};

using Volts = Measure<dimension::kVoltage>;
using Amps = Measure<dimension::kCurrent>;
using Watts = Measure<dimension::kPower>;
using Seconds = Measure<dimension::kTime>;
using Ohms = Measure<dimension::kResistance>;
using Farads = Measure<dimension::kCapacitance>;
using Henrys = Measure<dimension::kInductance>;
using Kelvins = Measure<dimension::kTemperature>;
using VoltsPerSecond = Measure<dimension::kVoltageRate>;
using AmpsPerSecond = Measure<dimension::kCurrentRate>;
using Ratio = Measure<dimension::kNone>;

// A decimal number without exponent, sign and unit: digits, with at most one point between digits. Exact.
// Empty if the text is no such number; overflowed if it does not fit in 128 bits.
[[nodiscard]] std::optional<Rational> parse_decimal(std::string_view text);

// A signed number with its unit, as bench and load files write it: "3.3 V", "-40ms", "5 %", "25 degC", "0.5 V/ms".
// Empty if the text is anything else. A bare number gives a quantity without dimension.
[[nodiscard]] std::optional<Quantity> parse_quantity(std::string_view text);

// What stands behind the number in such a text: "V", "%"; empty if it is none, or has no unit.
[[nodiscard]] std::string_view unit_in(std::string_view text);

// Nearest whole nanosecond, ties away from zero; empty if it does not fit in 64 bits.
[[nodiscard]] std::optional<Nanoseconds> to_nanoseconds(const Rational& seconds);
[[nodiscard]] Rational to_seconds(Nanoseconds time);

// "V", "V/s"; for what has no symbol its units, as in "V·s".
[[nodiscard]] std::string unit_text(const Dimension& dimension);

// Text for people: "3.3 V", "700 mA", "40 ms", "48 h", "5 %": an SI prefix, up to six significant digits.
[[nodiscard]] std::string to_text(const Quantity& quantity);
[[nodiscard]] std::string to_text(Nanoseconds time);
// The same in a unit of its dimension, as someone wrote it: "500 mV", "0.5 V", "95 %". Exact to nine decimals, else
// nine significant digits. Without a unit as above.
[[nodiscard]] std::string to_text_in(const Quantity& quantity, std::string_view unit);
// The same for a computed figure, in the SI unit that `unit` names ("V", "J", ...).
[[nodiscard]] std::string to_text(double value, std::string_view unit);
template <Dimension kDimension>
[[nodiscard]] std::string to_text(const Measure<kDimension>& measure) {
  return to_text(measure.quantity());
}

}  // namespace rampart
