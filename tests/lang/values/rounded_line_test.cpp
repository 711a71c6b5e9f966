#include "lang/values/rounded_line.h"

#include <doctest/doctest.h>

#include <limits>

#include "tests/support/dice.h"

using namespace rampart;
using test::Dice;

namespace {

Rational point(const Rational& first, const Rational& last, std::int64_t at, std::int64_t parts) {
  return first + (last - first) * Rational::fraction(at, parts);
}

}  // namespace

// By hand: 0, 1/2, 1, 3/2, 2 and the same below zero; ties go away from zero.
TEST_CASE("a rounded line takes ties away from zero") {
  auto up = RoundedLine::between(Rational(0), Rational(2), 4);
  auto down = RoundedLine::between(Rational(0), Rational(-2), 4);
  auto floor = RoundedLine::between(Rational(0), Rational(-2), 4, RoundedLine::To::Down);
  REQUIRE(up);
  REQUIRE(down);
  REQUIRE(floor);
  constexpr std::int64_t kNearest[] = {0, 1, 1, 2, 2};
  constexpr std::int64_t kFloor[] = {0, -1, -1, -2, -2};
  for (int k = 0; k <= 4; ++k) {
    CHECK(up->value() == kNearest[k]);
    CHECK(down->value() == -kNearest[k]);
    CHECK(floor->value() == kFloor[k]);
    up->advance();
    down->advance();
    floor->advance();
  }
}

TEST_CASE("a rounded line crosses zero as its fractions do, wherever it begins and ends") {
  Dice dice(20);
  std::int64_t points = 0;
  for (int i = 0; i < 2000; ++i) {
    const auto fraction = [&] {
      const int numerator = dice.up_to(6000) - 3000;
      return Rational::fraction(numerator, dice.up_to(39) + 1);
    };
    const Rational first = fraction();
    const Rational last = fraction();
    const std::int64_t parts = dice.up_to(59) + 1;
    auto nearest = RoundedLine::between(first, last, parts);
    auto down = RoundedLine::between(first, last, parts, RoundedLine::To::Down);
    REQUIRE(nearest);
    REQUIRE(down);
    for (std::int64_t k = 0; k <= parts; ++k, ++points) {
      const Rational exact = point(first, last, k, parts);
      REQUIRE(Int128{nearest->value()} == exact.rounded());
      REQUIRE(Int128{down->value()} == exact.floor());
      nearest->advance();
      down->advance();
    }
  }
  CHECK(points > 50'000);
}

TEST_CASE("a rounded line whose parts do not fit in 64 bits is none") {
  const std::int64_t huge = std::numeric_limits<std::int64_t>::max();
  CHECK_FALSE(RoundedLine::between(Rational(0), Rational(huge), 3));
  CHECK_FALSE(RoundedLine::between(Rational(0), Rational::fraction(1, huge), 3));
  CHECK_FALSE(RoundedLine::between(Rational::overflow(), Rational(1), 3));
  CHECK(RoundedLine::between(Rational(0), Rational(huge / 8), 3));
}
