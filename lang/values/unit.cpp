#include "lang/values/unit.h"

#include <algorithm>
#include <array>
#include <numeric>

#include "lang/text/word_table.h"

namespace rampart {

Dimension operator*(const Dimension& a, const Dimension& b) {
  return {static_cast<std::int8_t>(a.volt + b.volt), static_cast<std::int8_t>(a.amp + b.amp),
          static_cast<std::int8_t>(a.second + b.second), static_cast<std::int8_t>(a.kelvin + b.kelvin)};
}

Dimension operator/(const Dimension& a, const Dimension& b) {
  return {static_cast<std::int8_t>(a.volt - b.volt), static_cast<std::int8_t>(a.amp - b.amp),
          static_cast<std::int8_t>(a.second - b.second), static_cast<std::int8_t>(a.kelvin - b.kelvin)};
}

namespace {

struct NamedDimension {
  Dimension dimension;
  std::string_view name;
};

constexpr NamedDimension kNames[] = {
    {dimension::kNone, "a plain number"},
    {dimension::kVoltage, "voltage"},
    {dimension::kCurrent, "current"},
    {dimension::kTime, "time"},
    {dimension::kPower, "power"},
    {dimension::kEnergy, "energy"},
    {dimension::kCharge, "charge"},
    {dimension::kResistance, "resistance"},
    {dimension::kCapacitance, "capacitance"},
    {dimension::kInductance, "inductance"},
    {dimension::kFrequency, "frequency"},
    {dimension::kVoltageRate, "voltage rate"},
    {dimension::kCurrentRate, "current rate"},
    {dimension::kTemperature, "temperature"},
    {dimension::kThermalResistance, "thermal resistance"},
    {dimension::kHeatCapacity, "heat capacity"},
};

struct BaseUnit {
  std::string_view symbol;
  std::string_view canonical;
  bool takes_prefix;
  Dimension dimension;
  std::int64_t factor_numerator;
  std::int64_t factor_denominator;
  std::int64_t offset_hundredths;
};

// Symbols and case as UCUM and the SI brochure write them; Ohm has two code points in Unicode.
constexpr BaseUnit kUnits[] = {
    {"V", "V", true, dimension::kVoltage, 1, 1, 0},
    {"A", "A", true, dimension::kCurrent, 1, 1, 0},
    {"W", "W", true, dimension::kPower, 1, 1, 0},
    {"J", "J", true, dimension::kEnergy, 1, 1, 0},
    {"Wh", "Wh", true, dimension::kEnergy, 3600, 1, 0},
    {"C", "C", true, dimension::kCharge, 1, 1, 0},
    {"Ah", "Ah", true, dimension::kCharge, 3600, 1, 0},
    {"Ohm", "Ohm", true, dimension::kResistance, 1, 1, 0},
    {"\u03A9", "Ohm", true, dimension::kResistance, 1, 1, 0},
    {"\u2126", "Ohm", true, dimension::kResistance, 1, 1, 0},
    {"F", "F", true, dimension::kCapacitance, 1, 1, 0},
    {"H", "H", true, dimension::kInductance, 1, 1, 0},
    {"Hz", "Hz", true, dimension::kFrequency, 1, 1, 0},
    {"s", "s", true, dimension::kTime, 1, 1, 0},
    {"min", "min", false, dimension::kTime, 60, 1, 0},
    {"h", "h", false, dimension::kTime, 3600, 1, 0},
    {"d", "d", false, dimension::kTime, 86400, 1, 0},
    {"K", "K", false, dimension::kTemperature, 1, 1, 0},
    {"degC", "degC", false, dimension::kTemperature, 1, 1, 27315},
    {"%", "%", false, dimension::kNone, 1, 100, 0},
};

struct Prefix {
  std::string_view symbol;
  std::string_view canonical;
  std::int64_t numerator;
  std::int64_t denominator;
};

constexpr Prefix kPrefixes[] = {
    {"", "", 1, 1},
    {"p", "p", 1, 1'000'000'000'000},
    {"n", "n", 1, 1'000'000'000},
    {"u", "u", 1, 1'000'000},
    {"\u00B5", "u", 1, 1'000'000},
    {"\u03BC", "u", 1, 1'000'000},
    {"m", "m", 1, 1'000},
    {"k", "k", 1'000, 1},
    {"M", "M", 1'000'000, 1},
};

// A symbol with its prefix, every spelling of both.
struct Symbol {
  const Prefix* prefix = nullptr;
  const BaseUnit* unit = nullptr;
  // Its factor in lowest terms.
  std::int64_t numerator = 1;
  std::int64_t denominator = 1;
};

constexpr std::size_t kLongestSymbol = 5;

constexpr Symbol symbol_of(const Prefix& prefix, const BaseUnit& unit) {
  const std::int64_t numerator = unit.factor_numerator * prefix.numerator;
  const std::int64_t denominator = unit.factor_denominator * prefix.denominator;
  const std::int64_t common = std::gcd(numerator, denominator);
  return {&prefix, &unit, numerator / common, denominator / common};
}

constexpr auto kSymbols = [] {
  WordTable<Symbol, 512> table;
  for (const Prefix& prefix : kPrefixes) {
    for (const BaseUnit& unit : kUnits) {
      if (!prefix.symbol.empty() && !unit.takes_prefix) continue;
      std::array<char, kLongestSymbol> text{};
      const auto* stop = std::copy(unit.symbol.begin(), unit.symbol.end(),
                                   std::copy(prefix.symbol.begin(), prefix.symbol.end(), text.begin()));
      table.add({text.data(), static_cast<std::size_t>(stop - text.data())}, symbol_of(prefix, unit));
    }
  }
  return table;
}();

}  // namespace

std::string dimension_name(const Dimension& dimension) {
  for (const NamedDimension& row : kNames) {
    if (row.dimension == dimension) return std::string(row.name);
  }
  const std::array<std::pair<std::string_view, int>, 4> parts{
      {{"V", dimension.volt}, {"A", dimension.amp}, {"s", dimension.second}, {"K", dimension.kelvin}}};
  std::string text;
  for (const auto& [symbol, exponent] : parts) {
    if (exponent == 0) continue;
    if (!text.empty()) text += "·";
    text += symbol;
    if (exponent != 1) text += "^" + std::to_string(exponent);
  }
  return text;
}

std::span<const std::string_view> usual_units() {
  static constexpr std::string_view kUsual[] = {
      "V",   "mV", "kV", "uV",  "A",   "mA",  "uA",   "W",    "mW",   "kW",  "J",  "mJ", "kJ", "Wh", "mWh",
      "kWh", "C",  "mC", "Ah",  "mAh", "Ohm", "mOhm", "kOhm", "MOhm", "F",   "mF", "uF", "nF", "pF", "H",
      "mH",  "uH", "Hz", "kHz", "MHz", "s",   "ms",   "us",   "ns",   "min", "h",  "d",  "K",  "%"};
  return kUsual;
}

std::optional<Unit> find_unit_symbol(std::string_view symbol) {
  const Symbol* found = kSymbols.find(symbol);
  if (found == nullptr) return std::nullopt;
  return Unit{found->unit->dimension, Rational::fraction(found->numerator, found->denominator),
              Rational::fraction(found->unit->offset_hundredths, 100)};
}

std::optional<Unit> find_unit(std::string_view text) {
  const std::size_t slash = text.find('/');
  if (slash == std::string_view::npos) return find_unit_symbol(text);
  const std::optional<Unit> upper = find_unit_symbol(text.substr(0, slash));
  const std::optional<Unit> lower = find_unit_symbol(text.substr(slash + 1));
  if (!upper || !lower || upper->offset.sign() != 0 || lower->offset.sign() != 0) return std::nullopt;
  return Unit{upper->dimension / lower->dimension, upper->factor / lower->factor, 0};
}

std::size_t longest_unit_prefix(std::string_view text) {
  std::size_t length = std::min(text.size(), kLongestSymbol);
  while (length > 0 && kSymbols.find(text.substr(0, length)) == nullptr) --length;
  return length;
}

std::string canonical_unit(std::string_view text) {
  const std::size_t slash = text.find('/');
  if (slash != std::string_view::npos) {
    return canonical_unit(text.substr(0, slash)) + "/" + canonical_unit(text.substr(slash + 1));
  }
  const Symbol* found = kSymbols.find(text);
  if (found == nullptr) return std::string(text);
  return std::string(found->prefix->canonical) + std::string(found->unit->canonical);
}

}  // namespace rampart
