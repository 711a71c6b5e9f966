#include <doctest/doctest.h>

#include "tests/support/judged.h"
#include "tests/support/near.h"

// The three ways to start several supplies together: one after the other, in proportion, and along one line (common
// practice, no source). Margins are worked by hand beside each case.

using namespace rampart;
using namespace rampart::test;

namespace {

std::string with(std::string text, const std::string& what, const std::string& instead) {
  const std::size_t at = text.find(what);
  if (at == std::string::npos) throw std::runtime_error("not in the profile: " + what);
  return text.replace(at, what.size(), instead);
}

double margin(const Judged& judged, const std::string& rule) {
  REQUIRE(judged[rule].margin);
  return *judged[rule].margin;
}

rampart::test::Near about(double value) {
  return relative(value, 1e-12);
}

const std::string kOrdering = R"(
rule "a first" a >= 2.7 V before b >= 1 V by 10 ms
rule "b second" b >= 1.8 V before c >= 2 V by 20 ms
rule "a outlives b" always a >= 2.5 V while b >= 0.5 V
rule "c is quick" c rises from 0.5 V to 4.5 V within 45 ms
run {
  on a, b, c
  ramp a to 3 V over 30 ms
  dwell 10 ms
  ramp b to 2 V over 20 ms
  dwell 10 ms
  ramp c to 5 V over 50 ms
  dwell 100 ms
  ramp c to 0 V over 50 ms
  ramp b to 0 V over 20 ms
  ramp a to 0 V over 30 ms
  off a, b, c
}
)";

const std::string kRatiometric = R"(
rule "b in proportion" always b - 0.4 * a <= 0.1 V and 0.4 * a - b <= 0.1 V
rule "c in proportion" always c - 0.2 * a <= 0.1 V and 0.2 * a - c <= 0.1 V
run {
  on a, b, c
  together {
    ramp a to 5 V over 100 ms
    ramp b to 2 V over 100 ms
    ramp c to 1 V over 100 ms
  }
  dwell 100 ms
  ramp a to 0 V, b to 0 V, c to 0 V over 100 ms
  off a, b, c
}
)";

const std::string kSimultaneous = R"(
rule "a with b" always a - b <= 0.1 V while b < 2 V
rule "b with c" always b - c <= 0.1 V while c < 1 V
rule "b never above a" always a - b >= -50 mV
run {
  on a, b, c
  together {
    ramp a to 5 V at 50 V/s
    ramp b to 2 V at 50 V/s
    ramp c to 1 V at 50 V/s
  }
  dwell 100 ms
  ramp a to 2 V at 50 V/s
  ramp a to 1 V, b to 1 V over 20 ms
  ramp a to 0 V, b to 0 V, c to 0 V over 20 ms
  off a, b, c
}
)";

}  // namespace

// a is at 2.7 V after 27 ms, b from 40 ms at 100 V/s at 1 V after 50 ms: 23 ms, 13 more than asked.
// b is at 1.8 V after 58 ms, c from 70 ms at 100 V/s at 2 V after 90 ms: 32 ms, 12 more than asked.
// a is at 3 V all the while that b is above 0.5 V. c goes 4 V at 100 V/s: 40 ms, 5 ms to spare.
TEST_CASE("rails that start in order keep the rules of the order") {
  const Judged judged(kOrdering);
  CHECK(judged.broken().empty());
  CHECK(margin(judged, "a first") == about(0.013));
  CHECK(margin(judged, "b second") == about(0.012));
  CHECK(margin(judged, "a outlives b") == about(0.5));
  CHECK(judged["a outlives b"].unit == "V");
  CHECK(margin(judged, "c is quick") == about(0.005));
  CHECK(judged["c is quick"].unit == "s");
}

TEST_CASE("each mistake in an order breaks the rule that it concerns, by as much as it is wrong") {
  // a takes 60 ms for 3 V, so 54 ms to 2.7 V; b begins 50 ms after the start, and is at 1 V at 60 ms.
  const Judged slow_a(with(kOrdering, "ramp a to 3 V over 30 ms\n  dwell 10 ms\n  ramp b to 2 V over 20 ms",
                           "together { ramp a to 3 V over 60 ms; { dwell 50 ms; ramp b to 2 V over 20 ms } }"));
  CHECK(slow_a.broken() == "a first");
  CHECK(margin(slow_a, "a first") == about(0.060 - 0.054 - 0.010));
  // b takes 50 ms for 2 V, so it is at 1.8 V after 40 + 45 ms; c begins at 70 ms, and is at 2 V at 90 ms.
  const Judged slow_b(with(kOrdering, "ramp b to 2 V over 20 ms\n  dwell 10 ms\n  ramp c to 5 V over 50 ms",
                           "together { ramp b to 2 V over 50 ms; { dwell 30 ms; ramp c to 5 V over 50 ms } }"));
  CHECK(slow_b.broken() == "b second");
  CHECK(margin(slow_b, "b second") == about(0.005 - 0.020));
  // Both fall over 30 ms: when b is at 0.5 V, three quarters down, a is at 0.75 V.
  const Judged together_down(
      with(kOrdering, "ramp b to 0 V over 20 ms\n  ramp a to 0 V over 30 ms", "ramp a to 0 V, b to 0 V over 30 ms"));
  CHECK(together_down.broken() == "a outlives b");
  CHECK(margin(together_down, "a outlives b") == about(0.75 - 2.5));
  CHECK(together_down["a outlives b"].time_s == about(0.270 + 0.0225));
  // 4 V of a ramp of 5 V over 60 ms take 48 ms.
  const Judged slow_c(with(kOrdering, "ramp c to 5 V over 50 ms", "ramp c to 5 V over 60 ms"));
  CHECK(slow_c.broken() == "c is quick");
  CHECK(margin(slow_c, "c is quick") == about(-0.003));
  // c falls back by 0.3 V on its way.
  const Judged dip(with(kOrdering, "ramp c to 5 V over 50 ms",
                        "ramp c to 4 V over 20 ms\n"
                        "  ramp c to 3.7 V over 5 ms\n  ramp c to 5 V over 15 ms"));
  CHECK(dip.broken() == "c is quick");
  CHECK(margin(dip, "c is quick") == about(-0.3));
  CHECK(dip["c is quick"].unit == "V");
  CHECK(dip["c is quick"].time_s == about(0.095));
}

// b is 0.4 times a and c is 0.2 times a at any time, so the distance to either bound is the bound.
TEST_CASE("rails in proportion keep the rules of the proportion, and break them where they leave it") {
  const Judged judged(kRatiometric);
  CHECK(judged.broken().empty());
  CHECK(margin(judged, "b in proportion") == about(0.1));
  CHECK(margin(judged, "c in proportion") == about(0.1));
  // b is at 2 V after 80 ms already, when a is at 4 V: 0.4 V too high.
  const Judged early_b(with(kRatiometric, "ramp b to 2 V over 100 ms", "ramp b to 2 V over 80 ms"));
  CHECK(early_b.broken() == "b in proportion");
  CHECK(margin(early_b, "b in proportion") == about(0.1 - 0.4));
  CHECK(early_b["b in proportion"].time_s == about(0.080));
  // c begins 20 ms late, when a is at 1 V: it is 0.2 V low from then on.
  const Judged late_c(with(kRatiometric, "ramp c to 1 V over 100 ms", "{ dwell 20 ms; ramp c to 1 V over 100 ms }"));
  CHECK(late_c.broken() == "c in proportion");
  CHECK(margin(late_c, "c in proportion") == about(0.1 - 0.2));
  CHECK(late_c["c in proportion"].time_s == about(0.020));
}

TEST_CASE("rails along one line keep the rules of the line, and break them where they leave it") {
  const Judged judged(kSimultaneous);
  CHECK(judged.broken().empty());
  CHECK(margin(judged, "a with b") == about(0.1));
  CHECK(margin(judged, "b with c") == about(0.1));
  CHECK(margin(judged, "b never above a") == about(0.05));
  // b at 25 V/s is at 2 V after 80 ms, when a is at 4 V. c is at 1 V after 20 ms, when b is at 0.5 V.
  const Judged slow_b(with(kSimultaneous, "b to 2 V at 50 V/s", "b to 2 V at 25 V/s"));
  CHECK(slow_b.broken() == "a with b");
  CHECK(margin(slow_b, "a with b") == about(0.1 - 2));
  CHECK(slow_b["a with b"].time_s == about(0.080));
  // c at 20 V/s is at 1 V after 50 ms; b stands at 2 V since 40 ms, when c was at 0.8 V: the most is 1.2 V.
  const Judged slow_c(with(kSimultaneous, "c to 1 V at 50 V/s", "c to 1 V at 20 V/s"));
  CHECK(slow_c.broken() == "b with c");
  CHECK(margin(slow_c, "b with c") == about(0.1 - 1.2));
  CHECK(slow_c["b with c"].time_s == about(0.040));
  // a at 20 V/s is at 0.8 V after 40 ms, when b reaches 2 V.
  const Judged slow_a(with(kSimultaneous, "a to 5 V at 50 V/s", "a to 5 V at 20 V/s"));
  CHECK(slow_a.broken() == "b never above a");
  CHECK(margin(slow_a, "b never above a") == about(0.05 - 1.2));
}
