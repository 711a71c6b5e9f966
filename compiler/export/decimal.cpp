#include "compiler/export/decimal.h"

#include <array>

namespace rampart {

DecimalScale decimal_scale(const Rational& resolution) {
  constexpr int kMostDecimals = 9;
  DecimalScale scale;
  Rational factor = resolution;
  while (!factor.is_whole() && scale.decimals < kMostDecimals) {
    factor = factor * Rational(10);
    ++scale.decimals;
  }
  scale.factor = static_cast<std::int64_t>(factor.rounded());
  return scale;
}

void append_decimal(std::int64_t number, int decimals, std::string& text) {
  std::array<char, 32> digits{};
  std::size_t at = digits.size();
  auto rest = number < 0 ? std::uint64_t{0} - static_cast<std::uint64_t>(number) : static_cast<std::uint64_t>(number);
  int written = 0;
  do {
    if (written == decimals && decimals > 0) digits[--at] = '.';
    digits[--at] = static_cast<char>('0' + rest % 10);
    rest /= 10;
    ++written;
  } while (rest != 0 || written <= decimals);
  if (number < 0) digits[--at] = '-';
  text.append(digits.data() + at, digits.size() - at);
}

void append_short_decimal(std::int64_t number, int decimals, std::string& text) {
  for (; decimals > 0 && number % 10 == 0; --decimals) number /= 10;
  append_decimal(number, decimals, text);
}

std::optional<std::string> exact_decimal(const Rational& value) {
  constexpr int kMostDecimals = 18;
  Rational whole = value;
  int decimals = 0;
  for (; decimals < kMostDecimals && !whole.overflowed() && !whole.is_whole(); ++decimals) whole = whole * Rational(10);
  if (whole.overflowed() || !whole.is_whole() || !fits_int64(whole.floor())) return std::nullopt;
  std::string text;
  append_short_decimal(static_cast<std::int64_t>(whole.floor()), decimals, text);
  return text;
}

}  // namespace rampart
