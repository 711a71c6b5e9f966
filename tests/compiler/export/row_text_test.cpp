#include "compiler/export/row_text.h"

#include <doctest/doctest.h>

#include <cstdio>
#include <random>
#include <string>

#include "tests/support/string_sink.h"

using namespace rampart;
using namespace rampart::test;

namespace {

// What the C library makes of it: the whole part, and the fraction filled with zeros.
std::string by_printf(std::int64_t number, int decimals) {
  std::int64_t one = 1;
  for (int i = 0; i < decimals; ++i) one *= 10;
  char text[64];
  const std::int64_t magnitude = number < 0 ? -number : number;
  if (decimals == 0) {
    std::snprintf(text, sizeof text, "%s%lld", number < 0 ? "-" : "", static_cast<long long>(magnitude));
  } else {
    std::snprintf(text, sizeof text, "%s%lld.%0*lld", number < 0 ? "-" : "", static_cast<long long>(magnitude / one),
                  decimals, static_cast<long long>(magnitude % one));
  }
  return text;
}

std::string shortened(std::string text) {
  if (text.find('.') == std::string::npos) return text;
  text.erase(text.find_last_not_of('0') + 1);
  if (text.back() == '.') text.pop_back();
  return text;
}

}  // namespace

TEST_CASE("numbers and times are written as printf writes their parts") {
  std::mt19937_64 engine(7);
  for (int i = 0; i < 20'000; ++i) {
    const auto decimals = static_cast<int>(engine() % 10);
    const auto drawn = static_cast<std::int64_t>(engine());
    const std::int64_t number = drawn >> (1 + engine() % 62);
    std::string text;
    append_decimal(number, decimals, text);
    REQUIRE(text == by_printf(number, decimals));
    text.clear();
    append_short_decimal(number, decimals, text);
    REQUIRE(text == shortened(by_printf(number, decimals)));
  }
}

TEST_CASE("a field that keeps its text writes each number as if it were the first") {
  std::mt19937_64 engine(8);
  NumberField number({25, 2}, NumberField::Zeros::Kept);
  NumberField shorter({25, 2}, NumberField::Zeros::LeftOut);
  TimeField time(NumberField::Zeros::Kept);
  TimeField shorter_time(NumberField::Zeros::LeftOut);
  std::int64_t at = 0;
  for (int i = 0; i < 20'000; ++i) {
    const std::int64_t counts = static_cast<std::int64_t>(engine() % 5) * 20 - 40;
    // Now and then back to 0, as at the start of a segment.
    at = i % 1000 == 999 ? 0 : at + static_cast<std::int64_t>(engine() % 1'500'000) * 1000;
    const auto written = [&](auto& field, auto value) {
      char text[2 * kLongestDecimal];
      return std::string(text, field.write(value, text));
    };
    REQUIRE(written(number, counts) == by_printf(counts * 25, 2));
    REQUIRE(written(shorter, counts) == shortened(by_printf(counts * 25, 2)));
    REQUIRE(written(time, Nanoseconds{at}) == by_printf(at, 9));
    REQUIRE(written(shorter_time, Nanoseconds{at}) == shortened(by_printf(at, 9)));
  }
}

TEST_CASE("a buffer hands on everything it is given, pieces longer than itself too") {
  StringSink sink;
  std::string expected;
  {
    PieceBuffer buffer(sink);
    for (int i = 0; i < 3000; ++i) {
      const std::string piece(static_cast<std::size_t>(i == 1500 ? 200'000 : i % 90), static_cast<char>('a' + i % 26));
      buffer.add(piece);
      expected += piece;
    }
  }
  CHECK(sink.text() == expected);
}
