#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "lang/values/rational.h"

namespace rampart {

// Exponents over volt, ampere, second and kelvin: enough for every electrical and thermal quantity of the language.
// 1 W = 1 V·A, 1 J = 1 V·A·s, 1 F = 1 A·s/V.
struct Dimension {
  std::int8_t volt = 0;
  std::int8_t amp = 0;
  std::int8_t second = 0;
  std::int8_t kelvin = 0;

  friend bool operator==(const Dimension&, const Dimension&) = default;
  friend Dimension operator*(const Dimension& a, const Dimension& b);
  friend Dimension operator/(const Dimension& a, const Dimension& b);
};

namespace dimension {
inline constexpr Dimension kNone{};
inline constexpr Dimension kVoltage{1, 0, 0, 0};
inline constexpr Dimension kCurrent{0, 1, 0, 0};
inline constexpr Dimension kTime{0, 0, 1, 0};
inline constexpr Dimension kPower{1, 1, 0, 0};
inline constexpr Dimension kEnergy{1, 1, 1, 0};
inline constexpr Dimension kCharge{0, 1, 1, 0};
inline constexpr Dimension kResistance{1, -1, 0, 0};
inline constexpr Dimension kCapacitance{-1, 1, 1, 0};
inline constexpr Dimension kInductance{1, -1, 1, 0};
inline constexpr Dimension kFrequency{0, 0, -1, 0};
inline constexpr Dimension kVoltageRate{1, 0, -1, 0};
inline constexpr Dimension kCurrentRate{0, 1, -1, 0};
inline constexpr Dimension kTemperature{0, 0, 0, 1};
inline constexpr Dimension kThermalResistance{-1, -1, 0, 1};
inline constexpr Dimension kHeatCapacity{1, 1, 1, -1};
}  // namespace dimension

// The word for a dimension in messages: "voltage", "current", "time"; else its units, as in "V·s".
[[nodiscard]] std::string dimension_name(const Dimension& dimension);

// A unit: SI value = number · factor + offset. Only degC has an offset.
struct Unit {
  Dimension dimension;
  Rational factor = 1;
  Rational offset = 0;

  friend bool operator==(const Unit&, const Unit&) = default;
};

// The unit that one symbol with its prefix names: "mV", "µF", "kOhm", "Ω", "%", "min". Case matters.
// Empty if there is none.
[[nodiscard]] std::optional<Unit> find_unit_symbol(std::string_view symbol);

// Symbols that people write, with the prefixes that they use: "V", "mV", "kOhm", "min", "%".
[[nodiscard]] std::span<const std::string_view> usual_units();

// A unit or a quotient of units: "V", "V/ms". Empty if either part is no unit.
[[nodiscard]] std::optional<Unit> find_unit(std::string_view text);

// The length in bytes of the longest unit symbol that `text` begins with; 0 if there is none.
[[nodiscard]] std::size_t longest_unit_prefix(std::string_view text);

// The spelling that the formatter writes: "µ" becomes "u", "Ω" becomes "Ohm". `text` must be a unit or quotient.
[[nodiscard]] std::string canonical_unit(std::string_view text);

}  // namespace rampart
