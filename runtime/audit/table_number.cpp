#include "runtime/audit/table_number.h"

#include <array>

#include "lang/values/quantity.h"

namespace rampart::audit {
namespace {

constexpr std::int64_t kBillion = 1'000'000'000;
// The sum of two fits in 64 bits.
constexpr std::int64_t kMostBillionths = 4 * kBillion * kBillion;
// Numbers of a table stay far below this, in every unit; above it sums could overflow.
constexpr std::int64_t kLargest = 1'000'000'000'000;

constexpr std::size_t kDecimals = 9;
constexpr std::array<std::int64_t, kDecimals + 1> kPowersOfTen = [] {
  std::array<std::int64_t, kDecimals + 1> powers{1};
  for (std::size_t i = 1; i < powers.size(); ++i) powers[i] = powers[i - 1] * 10;
  return powers;
}();

struct Digits {
  std::uint64_t number = 0;  // any, where they are too many to fit
  std::size_t count = 0;
};

// Those at the front of `text`, behind those of `number`.
Digits digits_at(std::string_view text, std::uint64_t number) {
  std::size_t count = 0;
  for (const char c : text) {
    const auto digit = static_cast<std::uint64_t>(c) - '0';
    if (digit > 9) break;
    number = number * 10 + digit;
    ++count;
  }
  return {number, count};
}

std::optional<Rational> read_fraction(std::string_view text) {
  const std::optional<Rational> number = parse_decimal(text);
  if (!number || number->overflowed() || *number > Rational(kLargest)) return std::nullopt;
  // Eighteen decimals are more than any supply resolves, and keep products within 128 bits.
  if (!fits_int64(number->denominator())) return std::nullopt;
  return number;
}

// Whether value / step is a whole number, without its lowest terms where the products fit.
bool is_multiple(const Rational& value, const Rational& step) {
  Int128 above = 0;
  Int128 below = 0;
  if (__builtin_mul_overflow(value.numerator(), step.denominator(), &above) ||
      __builtin_mul_overflow(value.denominator(), step.numerator(), &below)) {
    return (value / step).is_whole();
  }
  return below != 0 && above % below == 0;
}

}  // namespace

TableNumber::TableNumber(const Rational& value) {
  const Rational count = value * Rational(kBillion);
  const bool is_short = !count.overflowed() && count.is_whole() && abs(count) <= Rational(kMostBillionths);
  if (is_short) billionths_ = static_cast<std::int64_t>(count.numerator());
  if (!is_short) fraction_ = value;
}

TableNumber TableNumber::billionths(std::int64_t count) {
  if (count < -kMostBillionths || count > kMostBillionths) return TableNumber(Rational::fraction(count, kBillion));
  TableNumber number;
  number.billionths_ = count;
  return number;
}

bool TableNumber::take_short(std::string_view& text, TableNumber& number) {
  const bool negative = text.starts_with('-');
  if (negative) text.remove_prefix(1);
  Digits digits = digits_at(text, 0);
  if (digits.count == 0 || digits.count > kDecimals) return false;
  text.remove_prefix(digits.count);
  std::size_t decimals = 0;
  if (text.starts_with('.')) {
    digits = digits_at(text.substr(1), digits.number);
    decimals = digits.count;
    if (decimals == 0 || decimals > kDecimals) return false;
    text.remove_prefix(1 + decimals);
  }
  const std::int64_t count = static_cast<std::int64_t>(digits.number) * kPowersOfTen[kDecimals - decimals];
  number.billionths_ = negative ? -count : count;
  number.fraction_.reset();
  return true;
}

std::optional<TableNumber> TableNumber::read(std::string_view text) {
  std::string_view rest = text;
  TableNumber number;
  if (take_short(rest, number) && rest.empty()) return number;
  const bool negative = text.starts_with('-');
  if (negative) text.remove_prefix(1);
  const std::optional<Rational> fraction = read_fraction(text);
  if (!fraction) return std::nullopt;
  return TableNumber(negative ? -*fraction : *fraction);
}

Rational TableNumber::value() const {
  return is_short() ? Rational::fraction(billionths_, kBillion) : *fraction_;
}

double TableNumber::to_double() const {
  // Below this both parts are exact in a double, so one division rounds as that of the fraction does.
  constexpr std::int64_t kMostExact = std::int64_t{1} << 53U;
  const bool is_exact = is_short() && billionths_ > -kMostExact && billionths_ < kMostExact;
  return is_exact ? static_cast<double>(billionths_) / static_cast<double>(kBillion) : value().to_double();
}

bool TableNumber::is_multiple_as_fraction(const TableNumber& step) const {
  return is_multiple(value(), step.value());
}

TableNumber operator+(const TableNumber& a, const TableNumber& b) {
  if (!a.is_short() || !b.is_short()) return TableNumber(a.value() + b.value());
  return TableNumber::billionths(a.billionths_ + b.billionths_);
}

TableNumber operator-(const TableNumber& a, const TableNumber& b) {
  if (!a.is_short() || !b.is_short()) return TableNumber(a.value() - b.value());
  return TableNumber::billionths(a.billionths_ - b.billionths_);
}

bool product_exceeds(const TableNumber& a, const TableNumber& b, const TableNumber& bound) {
  if (!a.is_short() || !b.is_short() || !bound.is_short()) return a.value() * b.value() > bound.value();
  return Int128{a.billionths_} * b.billionths_ > Int128{bound.billionths_} * kBillion;
}

}  // namespace rampart::audit
