#include <doctest/doctest.h>

#include <string>

#include "tests/support/resolved.h"

using namespace rampart;
using namespace rampart::test;

namespace {

// Findings of a profile whose first two lines declare rails `a` and `b`; `text` starts at line 3.
std::string places_of(const std::string& text, const std::vector<std::string>& settings = {}) {
  return Resolved("rail a on s1.ch1\nrail b on s1.ch2\n" + text, settings).places();
}

// The same where `text` is line 5, inside a run that uses both rails.
std::string places_in_run(const std::string& text) {
  return places_of("run {\nstep a to 1 V, b to 1 V\n" + text + "\n}");
}

}  // namespace

TEST_CASE("wrong dimensions are reported at the operator or the value") {
  CHECK(places_in_run("step a to 1 V + 1 A") == "unit-mismatch 5:15");
  CHECK(places_in_run("step a to (1 V - 1)") == "unit-mismatch 5:16");
  CHECK(places_in_run("step a to min(1 V, 2 A)") == "unit-mismatch 5:20");
  CHECK(places_in_run("await a >= 1 A within 1 s") == "unit-mismatch 5:9");
  CHECK(places_in_run("await a >= 1 V and b within 1 s") == "unit-mismatch 5:20");
  CHECK(places_in_run("await not a within 1 s") == "unit-mismatch 5:11");
  CHECK(places_in_run("step a to -(a > 1 V)") == "unit-mismatch 5:12");
  CHECK(places_in_run("dwell 5") == "unit-mismatch 5:7");
  CHECK(places_in_run("repeat 5 s { dwell 1 s }") == "unit-mismatch 5:8");
  const Resolved both("rail a on s1.ch1\nrun { step a to 1 V + 2 A }");
  CHECK(both.findings.findings().at(0).message.find("`1 V` (voltage) and `2 A` (current)") != std::string::npos);
}

TEST_CASE("values that statements do not take are reported where they stand") {
  CHECK(places_in_run("ramp a to 1 V over -1 ms") == "wrong-arguments 5:20");
  CHECK(places_in_run("ramp a to 1 V at 0 V/s") == "wrong-arguments 5:18");
  CHECK(places_in_run("ramp a to 1 V at -2 V/s") == "wrong-arguments 5:18");
  CHECK(places_in_run("dwell -1 ns") == "wrong-arguments 5:7");
  CHECK(places_in_run("limit a to 0 A") == "current-range 5:12");
  CHECK(places_in_run("step a to 1 V, b to 1 V, a to 2 V") == "wrong-arguments 5:26");
  CHECK(places_in_run("repeat 0 { dwell 1 s }") == "wrong-arguments 5:8");
  CHECK(places_in_run("repeat 9223372036854775808 { dwell 1 s }") == "number-too-large 5:8");
  CHECK(places_in_run("repeat 9223372036854775807 { dwell 1 s }").empty());
  CHECK(places_in_run("step a to 1 V / 0") == "wrong-arguments 5:15");
  CHECK(places_in_run("dwell 1000000000 h") == "too-long 5:7");
  CHECK(places_in_run("await operator \"connect\" within 1 s") == "wrong-arguments 5:1");
  CHECK(places_in_run("await a > 1 V within 1 s assume 2 s") == "wrong-arguments 5:33");
}

TEST_CASE("numbers and powers of units have bounds") {
  const std::string big = "99999999999999999999";
  CHECK(places_in_run("step a to 1 V * " + big + " * " + big) == "number-too-large 5:38");
  // 1 V to the 257th power would be a voltage again if exponents were counted in eight bits.
  std::string product = "1 V";
  for (int i = 0; i < 256; ++i) product += "*1 V";
  CHECK(Resolved("rail a on s1.ch1\nrun { step a to " + product + " }").errors() == "number-too-large");
}

TEST_CASE("names") {
  CHECK(places_in_run("step c to 1 V") == "unknown-name 5:6");
  CHECK(places_in_run("step a to c") == "unknown-name 5:11");
  CHECK(places_in_run("do c") == "unknown-name 5:4");
  CHECK(places_in_run("raise a") == "wrong-arguments 5:7");
  CHECK(places_of("let a = 1 V\nrun { step a to 1 V, b to 1 V }") == "duplicate-name 3:5");
  CHECK(places_of("let x = 1 V\nrun { step a to 1 V, b to 1 V }") == "unused-name 3:5");
  CHECK(places_in_run("for a in [1] { dwell 1 s }") == "duplicate-name 5:5");
  CHECK(places_of("run { do s(1 V) }\nsequence s(b) { step a to b\n step b to 1 V }") == "duplicate-name 4:12");
  CHECK(places_of("let x = y + 1 V\nlet y = z\nlet z = x\nrun { step a to x, b to y }") == "recursion 3:5");
  CHECK(places_of("protect a { ceiling 1 V }\nprotect a { ceiling 2 V }\nrun { step a to 1 V, b to 1 V }") ==
        "duplicate-name 4:9");
  CHECK(places_of("run { step a to 1 V, b to 1 V }\nrun { off a }") == "duplicate-name 4:5");
}

TEST_CASE("a cycle of calls is shown from end to end, a long one by its ends") {
  const Resolved one("rail a on s1.ch1\nsequence s { step a to 1 V\n do s }\nrun { do s }");
  CHECK(one.places() == "recursion 3:5");
  CHECK(one.findings.findings()[0].message == "sequence `s` calls itself: `s` -> `s`");
  std::string text = "rail a on s1.ch1\nrun { step a to 1 V\n do s0 }\n";
  for (int i = 0; i < 100; ++i) {
    text += "sequence s" + std::to_string(i) + " { do s" + std::to_string((i + 1) % 100) + " }\n";
  }
  const Resolved many(text);
  REQUIRE(many.errors() == "recursion");
  CHECK(many.findings.findings()[0].message ==
        "sequence `s0` calls itself: `s0` -> `s1` -> `s2` -> `s3` -> `s4` -> … -> `s95` -> `s96` -> `s97` -> `s98` -> "
        "`s99` -> `s0`");
}

TEST_CASE("settings name their option") {
  const std::string text = "param v = 1 V in 0 V .. 2 V\nrun { step a to v, b to v }";
  CHECK(places_of(text, {"v=2 V"}).empty());
  CHECK(places_of(text, {"v=2.001 V"}) == "wrong-arguments --set v=2.001 V:1:3");
  CHECK(places_of(text, {"v=1 A"}) == "unit-mismatch --set v=1 A:1:3");
  CHECK(places_of(text, {"w=1 V"}) == "unknown-name --set w=1 V:1:1");
  CHECK(places_of(text, {"v"}) == "wrong-arguments --set v:1:1");
  CHECK(places_of(text, {"v=one"}) == "wrong-arguments --set v=one:1:3");
  CHECK(places_of(text, {"v=1 V", "v=2 V"}) == "duplicate-name --set v=2 V:1:1");
  CHECK(places_of("param v = 3 V in 0 V .. 2 V\nrun { step a to v, b to v }") == "wrong-arguments 3:11");
  CHECK(places_of("param v = 1 V in 2 V .. 0 V\nrun { step a to v, b to v }") == "wrong-arguments 3:18");
}

TEST_CASE("one mistake brings no others") {
  const std::string sequence = "let v = 1 V\nsequence up(x) { step a to x, b to x }\n";
  CHECK(places_of(sequence + "run { do upp(v) }") == "unknown-name 5:10");
  CHECK(places_of(sequence + "run { do up(v, v) }") == "wrong-arguments 5:10");
  CHECK(places_of(sequence + "run { do up(v + 1 A) }") == "unit-mismatch 5:15");
  CHECK(places_of("let v = 1 V\nsequence up { step a to v, b to v\n do up }\nrun { do up }") == "recursion 5:5");
  CHECK(places_of("let v = 1 V\nrun { for i in c .. v step v { step a to i, b to i } }") == "unknown-name 4:16");
  CHECK(places_of("let v = 1 W\nrun { step a to 1 V, b to 1 V }\nexpect enrgy(a) <= v") == "unknown-name 5:8");
  CHECK(places_of("let v = 1 V\nparam p = c in v .. v\nrun { step a to p, b to p }") == "unknown-name 4:11");
  // What comes after an expansion that is given up counts as used.
  CHECK(places_of("let v = 1 V\nrun { for i in 1 .. 1000 step 1 { for j in 1 .. 1001 step 1 { dwell 1 s } }\n"
                  "step a to v, b to v\nmark \"m\" }\nexpect voltage(a) at \"m\" >= 1 V") == "too-large 4:63");
  // A mark in a sequence that nothing calls is not reached; one behind a call that could not be made may be.
  CHECK(places_of("run { step a to 1 V, b to 1 V }\nsequence s { mark \"m\" }\nexpect voltage(a) at \"m\" >= 1 V") ==
        "unused-name 4:10, unknown-name 5:22");
  CHECK(places_of("run { step a to 1 V, b to 1 V\n do s(1) }\nsequence s { mark \"m\" }\n"
                  "expect voltage(a) at \"m\" >= 1 V") == "wrong-arguments 4:5");
}

TEST_CASE("all mistakes of a block are found though its rail is unknown") {
  CHECK(places_of("protect c { ceiling 1 A; fuse after 1 V }\nrun { step a to 1 V, b to 1 V }") ==
        "unknown-name 3:9, unit-mismatch 3:21, unit-mismatch 3:37");
  CHECK(places_of("protect a { fuse after 1 s linked with b, b }\nrun { step a to 1 V, b to 1 V }") ==
        "wrong-arguments 3:43");
  CHECK(places_of("protect a { fuse after 1 s linked with a }\nrun { step a to 1 V, b to 1 V }") ==
        "wrong-arguments 3:40");
  CHECK(places_of("line l on s1.out output when trip a, a\nrun { step a to 1 V, b to 1 V }") == "wrong-arguments 3:38");
}

TEST_CASE("rules join what has one unit, premises anything") {
  const std::string run = "\nrun { step a to 1 V, b to 1 V }";
  CHECK(places_of("rule \"r\" always a >= 1 V and current(a) <= 1 A" + run) == "unit-mismatch 3:26");
  CHECK(places_of("rule \"r\" always a >= 1 V or not (b >= 1 V and slew(a) <= 1 V/s)" + run) == "unit-mismatch 3:43");
  CHECK(places_of("rule \"r\" always a >= 1 V while b >= 1 V and current(a) <= 1 A" + run).empty());
  CHECK(places_of("rule \"r\" always a * b >= 1 V" + run) == "not-linear 3:19");
  CHECK(places_of("rule \"r\" always 1 V / a >= 1" + run) == "not-linear 3:21");
  CHECK(places_of("rule \"r\" always abs(a - 2 * b) * 2 + abs(b) - abs(current(a) * 1 Ohm) >= 1 V" + run).empty());
  CHECK(places_of("rule \"r\" always abs(abs(a) - b) >= 1 V" + run) == "not-linear 3:17");
  CHECK(places_of("rule \"r\" always abs(a) * b >= 1 V" + run) == "not-linear 3:24");
  CHECK(places_of("rule \"r\" always 1 V / abs(a) >= 1" + run) == "not-linear 3:21");
  CHECK(places_of("rule \"r\" always abs(a) >= 1 A" + run) == "unit-mismatch 3:24");
  CHECK(places_of("rule \"r\" always max(a, b) >= 1 V" + run) == "not-linear 3:17");
  CHECK(places_of("rule \"r\" always abs(a) + abs(b) + abs(a + b) + abs(a - b) >= 1 V" + run).empty());
  CHECK(places_of("rule \"r\" always abs(a) + abs(b) + abs(a + b) + abs(a - b) + abs(2 * a) >= 1 V" + run) ==
        "not-linear 3:17");
  CHECK(places_of("rule \"r\" always a" + run) == "unit-mismatch 3:17");
  CHECK(places_of("rule \"r\" a rises from 2 V to 1 V" + run) == "wrong-arguments 3:23");
  CHECK(places_of("rule \"r\" a >= 1 V before b >= 1 V by -1 s" + run) == "wrong-arguments 3:38");
}

TEST_CASE("a profile does something") {
  CHECK(Resolved("").places() == "no-run 1:1");
  CHECK(Resolved("rail a on s1.ch1").places() == "no-run 1:1, unused-name 1:6");
  CHECK(Resolved("run { }").places().empty());
}

TEST_CASE("a value that a call hands over wrongly is told for each call, a mistake of the sequence once") {
  const std::string sequence = "sequence s(level) { step a to level; dwell 1 s }\n";
  CHECK(places_of(sequence + "run {\ndo s(1 A)\ndo s(2 s)\ndo s(1 V)\nstep b to 1 V\n}") ==
        "unit-mismatch 3:31, unit-mismatch 3:31");
  CHECK(places_of("sequence s(level) { step a to 1 A; step b to level }\nrun {\ndo s(1 V)\ndo s(2 V)\n}") ==
        "unit-mismatch 3:31");
  // Handed on, the value is still that of the outer call.
  CHECK(places_of(sequence + "sequence t(x) { do s(x) }\nrun {\ndo t(1 A)\ndo t(2 A)\nstep b to 1 V\n}") ==
        "unit-mismatch 3:31, unit-mismatch 3:31");
  CHECK(places_of(sequence + "sequence t(x) { do s(1 A); step b to x }\nrun {\ndo t(1 V)\ndo t(2 V)\n}") ==
        "unit-mismatch 3:31");
}

TEST_CASE("one mistake gives one finding") {
  CHECK(places_in_run("step a to 1 Volt + 1 V") == "syntax 5:13");
  CHECK(places_in_run("step a to 5. V") == "syntax 5:12");
  CHECK(places_in_run("step a to 0,5 V") == "syntax 5:11");
  CHECK(places_in_run("await 1 V < a < 6 V within 1 s") == "syntax 5:15");
  CHECK(places_in_run("dwell 20 degC") == "syntax 5:10");
  CHECK(places_in_run("await voltage(a) > 1 A within 1 s") == "unknown-name 5:7");
}
