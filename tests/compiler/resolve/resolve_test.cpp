#include "compiler/resolve/resolve.h"

#include <doctest/doctest.h>

#include <string>

#include "tests/support/resolved.h"

using namespace rampart;
using namespace rampart::test;

namespace {

// The value of `step a to EXPRESSION`.
Rational value_of(const std::string& expression) {
  const Resolved resolved("let k = 2\nrail a on s1.ch1\nrun { step a to " + expression + "\n step a to k * 1 V }");
  REQUIRE_MESSAGE(resolved.profile, resolved.errors());
  return target_of(resolved.profile->run.at(0));
}

std::string error_of(const std::string& statement) {
  return Resolved("rail a on s1.ch1\nrail b on s1.ch2\nrun { step a to 1 V, b to 1 V\n " + statement + " }").errors();
}

}  // namespace

// Plain arithmetic, worked by hand.
TEST_CASE("expressions are calculated exactly, by precedence and from the left") {
  CHECK(value_of("1 V + 2 V * 3") == Rational(7));
  CHECK(value_of("(1 V + 2 V) * 3") == Rational(9));
  CHECK(value_of("10 V - 4 V - 3 V") == Rational(3));
  CHECK(value_of("-(1 V - 3 V)") == Rational(2));
  CHECK(value_of("0.1 V + 0.2 V") == Rational::fraction(3, 10));
  CHECK(value_of("1 V / 3 * 3") == Rational(1));
  CHECK(value_of("(1 + 5 %) * 3.3 V") == Rational::fraction(3465, 1000));
  CHECK(value_of("2 A * 3 Ohm") == Rational(6));
  CHECK(value_of("6 W / 2 A") == Rational(3));
  CHECK(value_of("0.5 V/ms * 4 ms") == Rational(2));
  CHECK(value_of("min(3 V, 2 V, 4 V) + max(1 V, 2 V) + abs(0 V - 1 V)") == Rational(5));
  CHECK(value_of("k * k * 1 V") == Rational(4));
}

TEST_CASE("values are found in any order and settings replace defaults") {
  const Resolved resolved(
      "run { step a to high }\nlet high = k * base\nparam k = 110 % in 1 .. 1.2\nlet base = 5 V\nrail a on s1.ch1",
      {"k = 120%"});
  REQUIRE(resolved.profile);
  CHECK(target_of(resolved.profile->run.at(0)) == Rational(6));
  REQUIRE(resolved.profile->parameters.size() == 1);
  CHECK(resolved.profile->parameters[0].set);
  CHECK(resolved.profile->parameters[0].range->high.value == Rational::fraction(6, 5));
}

TEST_CASE("a long chain of values is no problem") {
  std::string text = "rail a on s1.ch1\nlet v0 = 1 V\n";
  constexpr int kLength = 20'000;
  for (int i = kLength; i > 0; --i) {
    text += "let v" + std::to_string(i) + " = v" + std::to_string(i - 1) + "\n";
  }
  const Resolved resolved(text + "run { step a to v" + std::to_string(kLength) + " }");
  REQUIRE(resolved.profile);
  CHECK(target_of(resolved.profile->run.at(0)) == Rational(1));
}

TEST_CASE("for counts from its start without adding up") {
  const Resolved resolved(
      "rail a on s1.ch1\nrun { for v in 0.1 V .. 1 V step 0.1 V { step a to v }\n for v in [3 V, 2 V] { step a to v } "
      "}");
  REQUIRE(resolved.profile);
  const Program& run = resolved.profile->run;
  REQUIRE(run.size() == 12);
  for (int k = 0; k < 10; ++k) CHECK(target_of(run[static_cast<std::size_t>(k)]) == Rational::fraction(k + 1, 10));
  CHECK(target_of(run[10]) == Rational(3));
  CHECK(target_of(run[11]) == Rational(2));
}

TEST_CASE("for may count down, and needs steps that fit") {
  const Resolved down("rail a on s1.ch1\nrun { for v in 1 V .. 0 V step -0.5 V { step a to v } }");
  REQUIRE(down.profile);
  CHECK(down.profile->run.size() == 3);
  CHECK(error_of("for v in 1 V .. 0 V step 0.5 V { step a to v }") == "wrong-arguments");
  CHECK(error_of("for v in 0 V .. 1 V step 0 V { step a to v }") == "wrong-arguments");
  const Resolved wrong("rail a on s1.ch1\nrun { for v in 0 V .. 1 V step 0.3 V { step a to v } }");
  REQUIRE(wrong.findings.findings().size() == 1);
  CHECK(wrong.findings.findings()[0].hint == "a step that fits is 250 mV or 500 mV");
}

TEST_CASE("sequences take values, rails and lines") {
  const Resolved resolved(
      "rail a on s1.ch1\nrail b on s1.ch2\nline go on s1.out output\n"
      "sequence up(r, v, l) { ramp r to v over 1 s\n raise l }\n"
      "run { do up(b, 2 V, go)\n repeat 3 { do up(a, 1 V, go) } }");
  REQUIRE_MESSAGE(resolved.profile, resolved.errors());
  const Program& run = resolved.profile->run;
  REQUIRE(run.size() == 3);
  CHECK(std::get<Ramp>(run[0].what).motions.at(0).rail == RailId{1});
  CHECK(std::get<SetLine>(run[1].what).high);
  const auto& repeat = std::get<Repeat>(run[2].what);
  CHECK(std::get<std::int64_t>(repeat.extent) == 3);
  REQUIRE(repeat.body.size() == 2);
  CHECK(std::get<Ramp>(repeat.body[0].what).motions.at(0).rail == RailId{0});
  // Each call has its own place.
  REQUIRE(resolved.profile->calls.size() == 2);
  CHECK(run[0].call == CallId{0});
  CHECK(repeat.body[0].call == CallId{1});
}

TEST_CASE("one pass reports every mistake, each once") {
  const Resolved resolved(
      "rail a on s1.ch1\nlet v = 1 V + 1 A\nsequence s { step a to v\n step b to v }\n"
      "run { do s\n do s\n repeat 2.5 { dwell 1 }\n step a to v + 1 A }");
  CHECK(resolved.errors() == "unit-mismatch unknown-name wrong-arguments unit-mismatch");
}

TEST_CASE("wrong statements") {
  CHECK(error_of("step a to 1 A") == "unit-mismatch");
  CHECK(error_of("limit a to 1 V") == "unit-mismatch");
  CHECK(error_of("limit a to 0 A") == "current-range");
  CHECK(error_of("ramp a to 1 V over -1 s") == "wrong-arguments");
  CHECK(error_of("ramp a to 1 V at 0 V/s") == "wrong-arguments");
  CHECK(error_of("ramp a to 1 V at 1 A/s") == "unit-mismatch");
  CHECK(error_of("ramp a to 1 V over 0 s") == "");
  CHECK(error_of("dwell 3 V") == "unit-mismatch");
  CHECK(error_of("on a, b, a") == "wrong-arguments");
  CHECK(error_of("repeat 0 { dwell 1 s }") == "wrong-arguments");
  CHECK(error_of("repeat for 1 V { dwell 1 s }") == "unit-mismatch");
  CHECK(error_of("step a to b") == "wrong-arguments");
  CHECK(error_of("step a to 1 V < 2 V") == "wrong-arguments");
  CHECK(error_of("await a + 1 A > 2 V within 1 s") == "unit-mismatch");
  CHECK(error_of("await max(a, b) > 2 V within 1 s") == "not-linear");
  CHECK(error_of("await 2 * a - b / 4 > 2 V within 1 s") == "");
  CHECK(error_of("await a > 2 V within 1 s assume 1001 ms") == "wrong-arguments");
}

TEST_CASE("conditions become linear forms") {
  const Resolved resolved(
      "rail a on s1.ch1\nrail b on s1.ch2\nrun { await not 2 * a < b + 3 V and current(a) >= 1 A within 1 s }");
  REQUIRE_MESSAGE(resolved.profile, resolved.errors());
  REQUIRE(resolved.profile->conditions.size() == 1);
  const std::vector<ConditionNode>& nodes = resolved.profile->conditions[0].nodes;
  REQUIRE(nodes.size() == 4);
  // 2 a < b + 3 V is b - 2 a + 3 V > 0.
  const LinearForm& form = nodes[0].comparison.form;
  CHECK(nodes[0].comparison.strict);
  REQUIRE(form.terms.size() == 2);
  CHECK(form.terms[0].coefficient == Rational(1));
  CHECK(form.terms[0].rail == RailId{1});
  CHECK(form.terms[1].coefficient == Rational(-2));
  CHECK(form.constant == Rational(3));
  CHECK(nodes[1].op == Truth::Not);
  CHECK(nodes[2].comparison.form.terms.at(0).signal == Signal::Current);
  CHECK(nodes[3].op == Truth::And);
}

TEST_CASE("expansion is bounded") {
  CHECK(error_of("for i in 1 .. 1000001 step 1 { dwell 1 s }") == "too-large");
  CHECK(error_of("for i in 1 .. 1001 step 1 { for j in 1 .. 1000 step 1 { dwell 1 s } }") == "too-large");
  // Each sequence calls the one before it twice: 2^40 calls without a single statement.
  std::string doubling = "rail a on s1.ch1\nsequence s0 { step a to 1 V }\n";
  for (int i = 1; i <= 40; ++i) {
    const std::string before = std::to_string(i - 1);
    doubling += "sequence s" + std::to_string(i) + " { do s" + before + "\n do s" + before + " }\n";
  }
  CHECK(Resolved(doubling + "run { do s40 }").errors() == "too-large");
}

TEST_CASE("recursion is reported once, wherever it is entered") {
  const Resolved resolved(
      "rail a on s1.ch1\nsequence x { do y }\nsequence y { do z }\nsequence z { do x }\nrun { step a to 1 V\n do y\n "
      "do z\n do x }");
  CHECK(resolved.errors() == "recursion");
  CHECK(resolved.findings.findings()[0].message == "sequence `x` calls itself: `x` -> `y` -> `z` -> `x`");
}

TEST_CASE("lines are driven or awaited, never both") {
  const std::string lines = "rail a on s1.ch1\nline i on s1.in input\nline o on s1.out output\n";
  const std::string use = "run { step a to 1 V\n raise o\n await i high within 1 s assume 1 s\n ";
  CHECK(Resolved(lines + use + "}").errors() == "");
  CHECK(Resolved(lines + use + "raise i }").errors() == "line-direction");
  CHECK(Resolved(lines + use + "await o high within 1 s assume 1 s }").errors() == "line-direction");
}

TEST_CASE("holes in a text hold back what may stand in them") {
  const Resolved resolved("rail a on s1.ch1\nlet v 3 V\nrun { step a to v }");
  CHECK(resolved.errors() == "syntax");
}

// As docs/language.md says: in the unit that was written, exactly, without trailing zeros.
TEST_CASE("values in names are written as they were") {
  const auto names = [](const std::string& label, const std::vector<std::string>& settings = {}) {
    const Resolved resolved(
        "rail a on s1.ch1\nparam margin = 5.0 % in 1 % .. 8 %\nlet half = 500 mV\nlet third = half * 2 / 3\n"
        "let pace = 3 V/ms\nlet plain = 1.50\nsequence each(rail, level) { step rail to level\nmark \"" +
            label +
            "\" }\nrun {\nfor k in [1 + margin, 1 - margin] {\nfor v in 0 V .. 200 mV step 100 mV { do each(a, v * k) "
            "} } }",
        settings);
    REQUIRE_MESSAGE(resolved.profile, resolved.places());
    std::string text;
    for (const Statement& statement : resolved.profile->run) {
      const auto* mark = std::get_if<Mark>(&statement.what);
      if (mark != nullptr) text += (text.empty() ? "" : "|") + mark->name;
    }
    return text.substr(0, text.find('|'));
  };
  CHECK(names("{margin}") == "5 %");
  CHECK(names("{margin}", {"margin=2.50%"}) == "2.5 %");
  CHECK(names("{margin}", {"margin=0.03"}) == "0.03");
  CHECK(names("{half} of {rail}") == "500 mV of a");
  CHECK(names("{third}") == "333.333333 mV");
  CHECK(names("{pace}, {plain}") == "3 V/ms, 1.5");
  CHECK(names("a {level}") == "a 0 V");
  CHECK(names("\\{half} \\\\ \\\" }") == "{half} \\ \" }");
}

TEST_CASE("the values of a range are written in the unit of its first") {
  const Resolved resolved("rail a on s1.ch1\nrun { for v in 0 mV .. 0.3 V step 100 mV { step a to v\nmark \"{v}\" } }");
  REQUIRE(resolved.profile);
  std::string text;
  for (const Statement& statement : resolved.profile->run) {
    if (const auto* mark = std::get_if<Mark>(&statement.what)) text += mark->name + " ";
  }
  CHECK(text == "0 mV 100 mV 200 mV 300 mV ");
}

TEST_CASE("two readings of one name are an error, passes of one are not") {
  CHECK(error_of("dwell 1 s\n measure \"x\" over 1 ms\n measure \"y\" over 1 ms").empty());
  CHECK(error_of("repeat 3 { dwell 1 s\n measure \"x\" over 1 ms }").empty());
  CHECK(error_of("measure \"x\" over 1 ms\n measure \"x\" over 1 ms") == "duplicate-name");
  CHECK(error_of("for k in [1, 2] { measure \"x\" over 1 ms }") == "duplicate-name");
  CHECK(error_of("for k in [1, 2] { measure \"x {k}\" over 1 ms }").empty());
  CHECK(error_of("for k in [100 mV, 0.1 V] { measure \"x {k}\" over 1 ms }").empty());
  CHECK(error_of("measure \"x\" over 0 s") == "wrong-arguments");
  CHECK(error_of("measure \"x\" over 1 V") == "unit-mismatch");
  CHECK(error_of("measure \"x {nothing}\" over 1 s") == "unknown-name");
}
