#include "lang/values/quantity.h"

#include <array>
#include <cctype>
#include <cmath>
#include <cstdio>

#include "lang/text/trimmed.h"

namespace rampart {
namespace {

bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

struct SymbolRow {
  Dimension dimension;
  std::string_view symbol;
};

constexpr SymbolRow kSymbolRows[] = {
    {dimension::kVoltage, "V"},        {dimension::kCurrent, "A"},
    {dimension::kTime, "s"},           {dimension::kPower, "W"},
    {dimension::kEnergy, "J"},         {dimension::kCharge, "C"},
    {dimension::kResistance, "Ohm"},   {dimension::kCapacitance, "F"},
    {dimension::kInductance, "H"},     {dimension::kFrequency, "Hz"},
    {dimension::kVoltageRate, "V/s"},  {dimension::kCurrentRate, "A/s"},
    {dimension::kTemperature, "K"},    {dimension::kThermalResistance, "K/W"},
    {dimension::kHeatCapacity, "J/K"},
};

std::string_view symbol_of(const Dimension& dimension) {
  for (const SymbolRow& row : kSymbolRows) {
    if (row.dimension == dimension) return row.symbol;
  }
  return {};
}

// "%.Ng" without exponent or trailing zeros for the magnitudes that a prefix leaves. Zero has no sign.
std::string digits_text(double value, int digits) {
  std::array<char, 64> buffer{};
  std::snprintf(buffer.data(), buffer.size(), "%.*g", digits, value == 0.0 ? 0.0 : value);
  return buffer.data();
}

std::string prefixed(double value, std::string_view symbol, int digits) {
  static constexpr std::array<std::string_view, 7> kPrefixes{"p", "n", "u", "m", "", "k", "M"};
  if (!std::isfinite(value)) return std::isnan(value) ? "undefined" : (value > 0 ? "unbounded" : "-unbounded");
  if (symbol.empty()) return digits_text(value, digits);
  if (value == 0.0) return "0 " + std::string(symbol);
  for (std::size_t i = 0; i < kPrefixes.size(); ++i) {
    const double scaled = value / std::pow(10.0, 3.0 * (static_cast<double>(i) - 4.0));
    // Rounding to the shown digits may carry into the next prefix: 999.9999999 m is 1.
    const double shown = std::strtod(digits_text(scaled, digits).c_str(), nullptr);
    const bool last = i + 1 == kPrefixes.size();
    if (std::abs(shown) < 1000.0 || last) {
      return digits_text(scaled, digits) + " " + std::string(kPrefixes[i]) + std::string(symbol);
    }
  }
  return {};
}

// From a minute on, whole hours and minutes say more than kiloseconds.
std::string long_time_text(double seconds) {
  std::string text = seconds < 0 ? "-" : "";
  double rest = std::abs(seconds);
  const double hours = std::floor(rest / 3600.0);
  rest -= hours * 3600.0;
  const double minutes = std::floor(rest / 60.0);
  rest -= minutes * 60.0;
  const auto append = [&text](double value, std::string_view unit) {
    if (!text.empty() && text != "-") text += " ";
    text += digits_text(value, 9) + " " + std::string(unit);
  };
  if (hours > 0) append(hours, "h");
  if (minutes > 0) append(minutes, "min");
  if (rest > 0) append(rest, "s");
  return text;
}

// The shortest decimal that is exactly `value`; empty where nine decimals do not do.
std::optional<std::string> short_decimal(const Rational& value) {
  constexpr std::int64_t kParts = 1'000'000'000;
  const Rational parts = abs(value) * Rational(kParts);
  if (parts.overflowed() || !parts.is_whole() || !fits_int64(parts.floor())) return std::nullopt;
  const auto all = static_cast<std::int64_t>(parts.floor());
  std::string fraction = std::to_string(kParts + all % kParts);
  fraction.front() = '.';
  while (fraction.back() == '0') fraction.pop_back();
  if (fraction == ".") fraction.clear();
  return (value.sign() < 0 ? "-" : "") + std::to_string(all / kParts) + fraction;
}

// A number with its unit, as written.
struct SignedText {
  bool negative = false;
  std::string_view digits;
  std::string_view symbol;
};

SignedText split(std::string_view text) {
  text = trimmed(text);
  const bool negative = text.starts_with('-');
  if (negative || text.starts_with('+')) text = trimmed(text.substr(1));
  std::size_t length = 0;
  while (length < text.size() && (is_digit(text[length]) || text[length] == '.')) ++length;
  return {negative, text.substr(0, length), trimmed(text.substr(length))};
}

constexpr int kExactDigits = 9;
constexpr int kComputedDigits = 6;

// As parse_decimal(), by sums of type `Whole`.
template <class Whole>
std::optional<Rational> decimal_of(std::string_view text) {
  if (text.empty() || !is_digit(text.front()) || !is_digit(text.back())) return std::nullopt;
  Whole number = 0;
  Whole scale = 1;
  bool after_point = false;
  bool too_large = false;
  for (const char c : text) {
    if (c == '.') {
      if (after_point) return std::nullopt;
      after_point = true;
      continue;
    }
    if (!is_digit(c)) return std::nullopt;
    too_large = too_large || __builtin_mul_overflow(number, 10, &number) ||
                __builtin_add_overflow(number, c - '0', &number) ||
                (after_point && __builtin_mul_overflow(scale, 10, &scale));
  }
  return too_large ? Rational::overflow() : Rational::fraction(number, scale);
}

}  // namespace

std::optional<Rational> parse_decimal(std::string_view text) {
  // So many digits fit in a machine word, where sums cost next to nothing.
  constexpr std::size_t kDigitsOfWord = 18;
  return text.size() <= kDigitsOfWord ? decimal_of<std::int64_t>(text) : decimal_of<Int128>(text);
}

std::optional<Quantity> parse_quantity(std::string_view text) {
  const SignedText parts = split(text);
  std::optional<Rational> number = parse_decimal(parts.digits);
  if (!number) return std::nullopt;
  if (parts.negative) number = -*number;
  const std::string_view symbol = parts.symbol;
  if (symbol.empty()) return Quantity{*number, dimension::kNone};
  const std::optional<Unit> unit = find_unit(symbol);
  if (!unit) return std::nullopt;
  return Quantity{*number * unit->factor + unit->offset, unit->dimension};
}

std::string_view unit_in(std::string_view text) {
  return parse_quantity(text) ? split(text).symbol : std::string_view();
}

std::optional<Nanoseconds> to_nanoseconds(const Rational& seconds) {
  const Rational nanoseconds = seconds * Rational(1'000'000'000);
  if (nanoseconds.overflowed()) return std::nullopt;
  const Int128 whole = nanoseconds.rounded();
  if (!fits_int64(whole)) return std::nullopt;
  return Nanoseconds{static_cast<std::int64_t>(whole)};
}

Rational to_seconds(Nanoseconds time) {
  return Rational::fraction(time.count(), 1'000'000'000);
}

std::string unit_text(const Dimension& dimension) {
  const std::string_view symbol = symbol_of(dimension);
  return symbol.empty() && dimension != dimension::kNone ? dimension_name(dimension) : std::string(symbol);
}

std::string to_text(const Quantity& quantity) {
  if (quantity.value.overflowed()) return "a number too large";
  const double value = quantity.value.to_double();
  if (quantity.dimension == dimension::kTime && std::abs(value) >= 60.0) return long_time_text(value);
  if (quantity.dimension == dimension::kNone) return digits_text(value, kExactDigits);
  const std::string_view symbol = symbol_of(quantity.dimension);
  if (symbol.empty()) return digits_text(value, kExactDigits) + " " + dimension_name(quantity.dimension);
  return prefixed(value, symbol, kExactDigits);
}

std::string to_text(Nanoseconds time) {
  return to_text(Quantity{to_seconds(time), dimension::kTime});
}

std::string to_text_in(const Quantity& quantity, std::string_view unit) {
  const std::optional<Unit> known = find_unit(unit);
  if (!known && quantity.dimension != dimension::kNone) return to_text(quantity);
  const Rational number = known ? quantity.value / known->factor : quantity.value;
  const std::string text = short_decimal(number).value_or(digits_text(number.to_double(), kExactDigits));
  return known ? text + " " + canonical_unit(unit) : text;
}

std::string to_text(double value, std::string_view unit) {
  if (unit == "s" && std::isfinite(value) && std::abs(value) >= 60.0) return long_time_text(value);
  if (unit.empty()) return digits_text(value, kComputedDigits);
  if (unit == "%") return digits_text(value, kComputedDigits) + " %";
  return prefixed(value, unit, kComputedDigits);
}

}  // namespace rampart
