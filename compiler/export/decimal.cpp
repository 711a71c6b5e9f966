#include "compiler/export/decimal.h"

#include <algorithm>
#include <array>

namespace rampart {
namespace {

// The digits of 00 to 99, one pair after another.
constexpr std::array<char, 200> kPairs = [] {
  std::array<char, 200> pairs{};
  for (std::size_t i = 0; i < pairs.size(); ++i) {
    pairs[i] = static_cast<char>('0' + (i % 2 == 0 ? i / 20 : i / 2 % 10));
  }
  return pairs;
}();

char* put_pair(std::size_t number, char* at) {
  std::copy_n(kPairs.begin() + static_cast<std::ptrdiff_t>(2 * number), 2, at);
  return at;
}

}  // namespace

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

char* write_decimal(std::int64_t number, int decimals, char* at) {
  // From the right, into the first half: what is copied is always so many characters, wherever the text begins.
  std::array<char, 2 * kLongestDecimal> text{};
  char* const end = text.data() + kLongestDecimal;
  char* begin = end;
  auto rest = number < 0 ? std::uint64_t{0} - static_cast<std::uint64_t>(number) : static_cast<std::uint64_t>(number);
  for (; decimals >= 2; decimals -= 2, rest /= 100) begin = put_pair(static_cast<std::size_t>(rest % 100), begin - 2);
  if (decimals == 1) {
    *--begin = static_cast<char>('0' + rest % 10);
    rest /= 10;
  }
  if (begin != end) *--begin = '.';
  for (; rest >= 100; rest /= 100) begin = put_pair(static_cast<std::size_t>(rest % 100), begin - 2);
  if (rest >= 10) {
    begin = put_pair(static_cast<std::size_t>(rest), begin - 2);
  } else {
    *--begin = static_cast<char>('0' + rest);
  }
  if (number < 0) *--begin = '-';
  std::copy_n(begin, kLongestDecimal, at);
  return at + (end - begin);
}

char* write_digits(std::uint64_t number, int digits, char* at) {
  char* place = at + digits;
  for (; place - at >= 2; number /= 100) place = put_pair(static_cast<std::size_t>(number % 100), place - 2);
  if (place != at) *at = static_cast<char>('0' + number % 10);
  return at + digits;
}

char* write_nine_digits(std::uint32_t number, char* at) {
  const std::uint32_t high = number / 10'000;
  const std::uint32_t low = number % 10'000;
  *at = static_cast<char>('0' + high / 10'000);
  put_pair(high / 100 % 100, at + 1);
  put_pair(high % 100, at + 3);
  put_pair(low / 100, at + 5);
  put_pair(low % 100, at + 7);
  return at + 9;
}

char* without_zeros(char* end) {
  while (end[-1] == '0') --end;
  return end[-1] == '.' ? end - 1 : end;
}

void append_decimal(std::int64_t number, int decimals, std::string& text) {
  std::array<char, kLongestDecimal> digits{};
  text.append(digits.data(), write_decimal(number, decimals, digits.data()));
}

void append_short_decimal(std::int64_t number, int decimals, std::string& text) {
  std::array<char, kLongestDecimal> digits{};
  char* const end = write_decimal(number, decimals, digits.data());
  text.append(digits.data(), decimals > 0 ? without_zeros(end) : end);
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
