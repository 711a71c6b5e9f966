#include <doctest/doctest.h>
#include <rapidcheck.h>

#include <limits>

#include "lang/values/quantity.h"
#include "lang/values/rational.h"
#include "lang/values/short_text.h"
#include "lang/values/unit.h"

namespace {

using rampart::Int128;
using rampart::parse_quantity;
using rampart::Quantity;
using rampart::Rational;
namespace dimension = rampart::dimension;

constexpr Int128 kMax = std::numeric_limits<Int128>::max();

Rational fraction(std::int64_t n, std::int64_t d) {
  return Rational::fraction(n, d);
}

void expect_quantity(std::string_view text, const Rational& value, const rampart::Dimension& dimension) {
  CAPTURE(std::string(text));
  const std::optional<Quantity> quantity = parse_quantity(text);
  REQUIRE(quantity);
  CHECK(quantity->value == value);
  CHECK(quantity->dimension == dimension);
}

}  // namespace

TEST_CASE("fractions are kept in lowest terms with a positive denominator") {
  CHECK(fraction(6, -4) == fraction(-3, 2));
  CHECK(fraction(0, -7) == Rational(0));
  CHECK(Rational::fraction(1, 0).overflowed());
  CHECK(fraction(1, 3) + fraction(1, 6) == fraction(1, 2));
  CHECK(fraction(2, 3) / fraction(4, 9) == fraction(3, 2));
  CHECK((Rational(1) / Rational(0)).overflowed());
}

TEST_CASE("what does not fit in 128 bits overflows and stays so") {
  const Rational most = Rational::fraction(kMax, 1);
  CHECK((most + Rational(1)).overflowed());
  CHECK((most * Rational(2)).overflowed());
  CHECK((most + Rational(1) - Rational(1)).overflowed());
  CHECK_FALSE((most - Rational(1)).overflowed());
  CHECK(most * Rational(2) / Rational(2) != most);
  CHECK(Rational::fraction(1, kMax) < Rational::fraction(1, kMax - 1));
  CHECK(Rational::fraction(kMax, kMax - 1) < Rational::fraction(kMax - 1, kMax - 2));
}

TEST_CASE("rounding goes to the nearest whole number, ties away from zero") {
  CHECK(fraction(5, 2).rounded() == 3);
  CHECK(fraction(-5, 2).rounded() == -3);
  CHECK(fraction(7, 3).rounded() == 2);
  CHECK(fraction(-7, 3).floor() == -3);
  CHECK(rampart::to_nanoseconds(fraction(1, 3)) == rampart::Nanoseconds(333'333'333));
  CHECK(rampart::to_nanoseconds(Rational::fraction(1, 2'000'000'000)) == rampart::Nanoseconds(1));
  CHECK_FALSE(rampart::to_nanoseconds(Rational(10'000'000'000)));
}

// The laws of an ordered field, which hold for fractions whatever their size as long as they fit.
TEST_CASE("fractions calculate and compare as fractions do") {
  CHECK(rc::check("field laws", [] {
    const auto any = [] {
      return fraction(*rc::gen::inRange<std::int64_t>(-1'000'000, 1'000'000),
                      *rc::gen::inRange<std::int64_t>(1, 1'000'000));
    };
    const Rational a = any();
    const Rational b = any();
    const Rational c = any();
    RC_ASSERT(a + b == b + a);
    RC_ASSERT((a + b) - b == a);
    RC_ASSERT(a * (b + c) == a * b + a * c);
    RC_ASSERT(b.sign() == 0 || a * b / b == a);
    RC_ASSERT((a < b) == ((a - b).sign() < 0));
    RC_ASSERT(Rational::fraction(a.floor(), 1) <= a);
    RC_ASSERT(a < Rational::fraction(a.floor() + 1, 1));
    RC_ASSERT(rampart::abs(a - Rational::fraction(a.rounded(), 1)) <= fraction(1, 2));
  }));
}

// Factors: SI brochure (9th edition), tables 4, 7 and 8: prefixes, coherent units, min, h, d; 0 degC = 273.15 K.
TEST_CASE("units have the factors of the SI brochure") {
  expect_quantity("3.3 V", fraction(33, 10), dimension::kVoltage);
  expect_quantity("40ms", fraction(1, 25), dimension::kTime);
  expect_quantity("5 min", Rational(300), dimension::kTime);
  expect_quantity("2 h", Rational(7200), dimension::kTime);
  expect_quantity("1 d", Rational(86'400), dimension::kTime);
  expect_quantity("1 kWh", Rational(3'600'000), dimension::kEnergy);
  expect_quantity("1 mAh", fraction(36, 10), dimension::kCharge);
  expect_quantity("5 %", fraction(1, 20), dimension::kNone);
  expect_quantity("0 degC", fraction(27'315, 100), dimension::kTemperature);
  expect_quantity("-40 degC", fraction(23'315, 100), dimension::kTemperature);
  expect_quantity("470 \u00B5F", fraction(47, 100'000), dimension::kCapacitance);
  expect_quantity("470 \u03BCF", fraction(47, 100'000), dimension::kCapacitance);
  expect_quantity("10 k\u03A9", Rational(10'000), dimension::kResistance);
  expect_quantity("10 k\u2126", Rational(10'000), dimension::kResistance);
  expect_quantity("1 V/ms", Rational(1000), dimension::kVoltageRate);
  expect_quantity("2 K/W", Rational(2), dimension::kThermalResistance);
  expect_quantity("100 pF", fraction(1, 10'000'000'000), dimension::kCapacitance);
  expect_quantity("2 MHz", Rational(2'000'000), dimension::kFrequency);
}

TEST_CASE("what is no quantity is refused") {
  for (const char* text : {"",      "V",   "5 m", "5 kmin", "5 mdegC", "5 V V",   "1e3 V", ".5 V",  "5. V",  "0x10 V",
                           "inf V", "nan", "5 v", "5 V/",   "5 /s",    "5 V/s/s", "- V",   "--5 V", "5,5 V", "5 m%"}) {
    CAPTURE(text);
    CHECK_FALSE(parse_quantity(text));
  }
}

TEST_CASE("units of more than one symbol are read to their longest") {
  CHECK(rampart::longest_unit_prefix("min(") == 3);
  CHECK(rampart::longest_unit_prefix("mOhm") == 4);
  CHECK(rampart::longest_unit_prefix("Whx") == 2);
  CHECK(rampart::longest_unit_prefix("m") == 0);
  CHECK(rampart::canonical_unit("\u00B5V/\u03BCs") == "uV/us");
  CHECK(rampart::canonical_unit("k\u2126") == "kOhm");
}

TEST_CASE("quantities read well") {
  const auto text = [](std::string_view quantity) { return rampart::to_text(*parse_quantity(quantity)); };
  CHECK(text("3300 mV") == "3.3 V");
  CHECK(text("0.7 A") == "700 mA");
  CHECK(text("0.04 s") == "40 ms");
  CHECK(text("48 h") == "48 h");
  CHECK(text("0 V") == "0 V");
  CHECK(text("-0.5 V") == "-500 mV");
}

TEST_CASE("on a first screen four digits are shown, and a margin never as more than it is") {
  CHECK(rampart::short_text(3.283583, "V") == "3.284 V");
  CHECK(rampart::short_text(0.5546078, "W") == "554.6 mW");
  CHECK(rampart::short_text(172'743.4, "s") == "47 h 59 min 3 s");
  CHECK(rampart::short_text(0, "J") == "0 J");
  CHECK(rampart::short_text(2.466e-30, "V") == "0 V");
  CHECK(rampart::short_text(-2e-15, "V") == "-0.002 pV");
  CHECK(rampart::short_text_down(0.019996, "s") == "19.99 ms");
  CHECK(rampart::short_text_down(-1.23451, "V") == "-1.235 V");
  CHECK(rampart::short_text_down(99.9999, "W") == "99.99 W");
  CHECK(rampart::short_text_up(0.01535001, "s") == "15.36 ms");
  CHECK(rampart::short_text_up(0.0154, "s") == "15.4 ms");
  CHECK(rampart::short_text_up(-1.23459, "V") == "-1.234 V");
  CHECK(rampart::short_text_up(0, "V") == "0 V");
  // What is left of 3.8 V at 3.3 V, in doubles.
  CHECK(rampart::short_text_down(3.8 - 3.3, "V") == "500 mV");
  CHECK(rampart::short_text_down(1e-13, "V", 1e-9) == "0 V");
}

// Reading what was written gives the value back, for values of up to six digits.
TEST_CASE("the text of a quantity reads back as the quantity") {
  CHECK(rc::check("text both ways", [] {
    const auto digits = *rc::gen::inRange<std::int64_t>(-999'999, 999'999);
    std::int64_t divisor = 1;
    for (int i = *rc::gen::inRange(0, 7); i > 0; --i) divisor *= 10;
    const auto dimension = *rc::gen::element(dimension::kVoltage, dimension::kCurrent, dimension::kPower,
                                             dimension::kEnergy, dimension::kResistance);
    const Quantity quantity{fraction(digits, divisor), dimension};
    const std::optional<Quantity> again = parse_quantity(rampart::to_text(quantity));
    RC_ASSERT(again.has_value());
    RC_ASSERT(*again == quantity);
  }));
}
