#include "runtime/audit/table_number.h"

#include <doctest/doctest.h>

#include <cstdio>
#include <string>
#include <vector>

#include "lang/values/quantity.h"
#include "runtime/audit/audit.h"
#include "tests/support/dice.h"
#include "tests/support/program_builder.h"

// The arithmetic of a table in whole billionths against that of fractions, which these tests take as exact.
using namespace rampart;
using audit::TableNumber;
using test::Dice;

namespace {

std::string digits(Dice& dice, int most) {
  std::string text;
  const int count = dice.up_to(most);
  for (int i = 0; i < count; ++i) text += static_cast<char>('0' + dice.up_to(9));
  return text;
}

// A decimal, long or short, and now and then a text that is none.
std::string random_number(Dice& dice) {
  std::string text = dice.chance(0.2) ? "-" : "";
  text += digits(dice, dice.chance(0.8) ? 10 : 16);
  if (dice.chance(0.7)) text += "." + digits(dice, dice.chance(0.8) ? 10 : 20);
  if (dice.chance(0.03)) text += "e3";
  if (dice.chance(0.03)) text.insert(0, " ");
  if (dice.chance(0.03)) text += ".5";
  return text;
}

// At most 10^12, in lowest terms with a denominator of 64 bits.
std::optional<Rational> read_as_fraction(std::string_view text) {
  const bool negative = text.starts_with('-');
  const std::optional<Rational> number = parse_decimal(text.substr(negative ? 1 : 0));
  if (!number || number->overflowed() || *number > Rational(1'000'000'000'000)) return std::nullopt;
  if (!fits_int64(number->denominator())) return std::nullopt;
  return negative ? -*number : *number;
}

TableNumber any_number(Dice& dice) {
  while (true) {
    if (const auto number = TableNumber::read(random_number(dice))) return *number;
  }
}

struct Told {
  std::vector<std::string> findings;  // "line name: message"
  std::int64_t rows = 0;
};

Told audited(const std::string& text, const Bench& bench) {
  std::FILE* stream = std::tmpfile();
  std::fwrite(text.data(), 1, text.size(), stream);
  std::rewind(stream);
  SourceSet sources;
  FindingSink findings;
  Told told;
  told.rows = audit::audit_csv(stream, "t", bench, nullptr, sources, findings).rows;
  std::fclose(stream);
  for (const Finding& finding : findings.findings()) {
    const Position place = sources[finding.span.file].position(finding.span.begin);
    told.findings.push_back(std::to_string(place.line) + " " + std::string(finding.name) + ": " + finding.message);
  }
  return told;
}

// How a table is written: what it says stays the same.
struct Form {
  bool quotes = false;
  bool long_numbers = false;  // with zeros that make them too long to be read as short ones
  bool returns = false;       // CRLF
};

struct RandomRow {
  std::string segment, time, channel, voltage, current, output;
};

// Rows that are mostly sound: times that go on in whole or half steps of the grid, and here and there a wrong field.
std::vector<RandomRow> random_rows(Dice& dice) {
  std::vector<RandomRow> rows;
  int time = 0;
  const auto milli = [](int count, const char* more) {
    std::string text = std::to_string(count / 1000) + "." + std::to_string(1000 + count % 1000).substr(1);
    return text + more;
  };
  for (int i = dice.up_to(20); i >= 0; --i) {
    RandomRow row;
    row.segment = dice.chance(0.95) ? "1" : "safe";
    row.time = milli(time, dice.chance(0.05) ? "5" : "");
    row.channel = dice.chance(0.5) ? "s1.ch1" : dice.chance(0.9) ? "s1.ch2" : "s9.ch9";
    const int tens = dice.up_to(2500);
    row.voltage = dice.chance(0.95) ? milli(10 * tens, dice.chance(0.1) ? "5" : "") : "";
    row.current = dice.chance(0.95) ? milli(dice.up_to(3100), "") : "-1";
    row.output = dice.chance(0.97) ? (dice.chance(0.5) ? "1" : "0") : "2";
    rows.push_back(row);
    time += dice.chance(0.3) ? 0 : dice.chance(0.9) ? 10 : dice.up_to(9);
  }
  return rows;
}

std::string write(const std::vector<RandomRow>& rows, const Form& form) {
  const std::string end = form.returns ? "\r\n" : "\n";
  const auto number = [&](const std::string& text) {
    return form.long_numbers && text.find('.') != std::string::npos ? text + "0000000" : text;
  };
  std::string text = "segment,time_s,channel,voltage_V,current_A,output" + end;
  for (const RandomRow& row : rows) {
    const std::string name = form.quotes ? "\"" + row.channel + "\"" : row.channel;
    text += row.segment + "," + number(row.time) + "," + name + "," + number(row.voltage) + "," + number(row.current) +
            "," + row.output + end;
  }
  return text;
}

}  // namespace

TEST_CASE("a number of a table is read as a fraction is") {
  Dice dice(31);
  int read = 0;
  for (int i = 0; i < 20'000; ++i) {
    const std::string text = random_number(dice);
    CAPTURE(text);
    const std::optional<TableNumber> number = TableNumber::read(text);
    const std::optional<Rational> fraction = read_as_fraction(text);
    REQUIRE(number.has_value() == fraction.has_value());
    if (!number) continue;
    ++read;
    REQUIRE(number->value() == *fraction);
    REQUIRE(number->sign() == fraction->sign());
    REQUIRE(number->to_double() == fraction->to_double());
    REQUIRE(*number == TableNumber(*fraction));
  }
  CHECK(read > 10'000);
}

TEST_CASE("numbers of a table are calculated with as fractions are") {
  Dice dice(32);
  int multiples = 0;
  for (int i = 0; i < 20'000; ++i) {
    const TableNumber a = any_number(dice);
    const TableNumber b = dice.chance(0.1) ? a : any_number(dice);
    const TableNumber bound = any_number(dice);
    const int counts = dice.up_to(20);
    const TableNumber step = TableNumber(Rational::fraction(counts, dice.chance(0.9) ? 1000 : 7));
    CAPTURE(a.to_double());
    CAPTURE(b.to_double());
    REQUIRE((a <=> b) == (a.value() <=> b.value()));
    REQUIRE((a == b) == (a.value() == b.value()));
    REQUIRE((a + b).value() == a.value() + b.value());
    REQUIRE((a - b).value() == a.value() - b.value());
    REQUIRE(abs(a).value() == abs(a.value()));
    REQUIRE(product_exceeds(a, b, bound) == (a.value() * b.value() > bound.value()));
    const Rational steps = a.value() / step.value();
    REQUIRE(a.is_multiple_of(step) == (step.sign() != 0 && steps.is_whole()));
    multiples += a.is_multiple_of(step) ? 1 : 0;
  }
  CHECK(multiples > 1000);
  CHECK(!TableNumber::read("1")->is_multiple_of(TableNumber()));
}

TEST_CASE("a table is judged alike however it is written") {
  Dice dice(33);
  const Bench bench = test::make_bench({{.channels = {{.name = "ch1"}, {.name = "ch2"}}}});
  std::size_t found = 0;
  std::size_t sound = 0;
  for (int i = 0; i < 1000; ++i) {
    const std::vector<RandomRow> rows = random_rows(dice);
    const Told plain = audited(write(rows, {}), bench);
    found += plain.findings.size();
    sound += plain.findings.empty() ? 1 : 0;
    for (int form = 1; form < 8; ++form) {
      const std::string text = write(rows, {(form & 1) != 0, (form & 2) != 0, (form & 4) != 0});
      CAPTURE(text);
      const Told told = audited(text, bench);
      REQUIRE(told.rows == plain.rows);
      REQUIRE(told.findings == plain.findings);
    }
  }
  CHECK(found > 1000);
  CHECK(sound > 10);
}
