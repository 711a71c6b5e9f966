#include "runtime/sweep/sweep.h"

#include <doctest/doctest.h>

#include <cmath>

#include "runtime/load/load_file.h"
#include "tests/support/held_profile.h"
#include "tests/support/near.h"

namespace rampart::sweep {
namespace {

using test::held_profile;

constexpr const char* kBench = R"(bench: One supply
supplies:
  bench:
    timing: {minimum_step: 10 ms, resolution: 1 ms, interpolation: linear}
    channels:
      ch1:
        voltage: {range: 0 V .. 24 V, resolution: 10 mV}
        current: {range: 0 A .. 3 A, resolution: 1 mA}
        protection: {overvoltage: 1 V .. 26 V, fuse_by: current_limit, fuse_delay: 0 s .. 8 s step 1 ms, overpower: 1 W .. 90 W}
)";
// 10 mF beside 10 Ohm.
constexpr const char* kLoad = R"(load: A capacitor and a resistor
rails:
  core:
    elements:
      - {kind: capacitor, capacitance: 10 mF}
      - {kind: resistor, resistance: 10 Ohm}
)";

HeldTexts capacitor_profile(const std::string& body) {
  HeldTexts files;
  files.hold("p.ramp", "profile \"C\"\nbench \"c.bench.yaml\"\nload \"c.load.yaml\"\nrail core on bench.ch1\n" + body);
  files.hold("c.bench.yaml", kBench);
  files.hold("c.load.yaml", kLoad);
  return files;
}

Sweep find(HeldTexts& files, const std::vector<std::string>& words, unsigned threads = 2) {
  Request request;
  request.find = read_find(words);
  return run(files, "p.ramp", {}, request, {.threads = threads});
}

TEST_CASE("the fastest ramp into a capacitor beside a resistor is that of the closed form") {
  // At the end of a ramp of T to V the current is C·V/T + V/R, the definition of capacitance and Ohm's law. It is I at
  // T = C·V / (I - V/R) = 10 mF · 5 V / (0.95 A - 0.5 A) = 111.11 ms; the next that a grid of 1 ms has is 112 ms.
  HeldTexts files = capacitor_profile(R"(param rise = 2 s in 20 ms .. 10 s
run {
  limit core to 2 A
  on core
  ramp core to 5 V over rise
  dwell 1 s
  off core
}
expect peak_current(core) <= 950 mA
)");
  const Sweep sweep = find(files, {"least", "rise"});
  REQUIRE(sweep.best);
  const double closed_s = 10e-3 * 5 / (0.95 - 5.0 / 10);
  CHECK(sweep.best->trial.value.value.to_double() == test::relative(std::ceil(closed_s * 1e3) * 1e-3, 1e-12));
  CHECK(sweep.best->setting == "rise=112ms");
  CHECK(sweep.best->confirmed);
  REQUIRE(sweep.best->beyond);
  CHECK(to_text(sweep.best->beyond->value) == "111 ms");
  CHECK(sweep.best->beyond->first_error->name == "expectation-failed");
  // 9,981 values, of which a few hundred are tried.
  CHECK(sweep.parameters.at(0).scan_step);
  CHECK(sweep.parameters.at(0).tried < 250);
  // The ramp is all of the run that changes.
  const Sweep shortest = find(files, {"least", "duration"});
  REQUIRE(shortest.best);
  CHECK(shortest.best->setting == "rise=112ms");
}

TEST_CASE("the shortest delay of a fuse that lets a capacitor charge is that of the closed form") {
  // A step to V charges the capacitor at the limit I: C·dv/dt = I - v/R, so v = I·R·(1 - exp(-t/RC)), which is V at
  // t = R·C·ln(I·R / (I·R - V)) = 100 ms · ln 2 = 69.3 ms. The fuse counts that time; its step is 1 ms.
  HeldTexts files = capacitor_profile(R"(param wait = 500 ms in 0 s .. 1 s
protect core { fuse after wait }
run {
  limit core to 1 A
  on core
  dwell 100 ms
  step core to 5 V
  dwell 3 s
  off core
}
expect no trip
)");
  const Sweep sweep = find(files, {"least", "wait"});
  REQUIRE(sweep.best);
  const double closed_s = 10 * 10e-3 * std::log(10.0 / (10.0 - 5.0));
  CHECK(sweep.best->trial.value.value.to_double() == test::relative(std::ceil(closed_s * 1e3) * 1e-3, 1e-12));
  CHECK(sweep.best->confirmed);
  REQUIRE(sweep.best->beyond);
  CHECK(to_text(sweep.best->beyond->value) == "69 ms");
}

TEST_CASE("intervals are what each value comes to when it is compiled by itself") {
  HeldTexts files = held_profile();
  const Sweep sweep = run(files, "p.ramp", {}, {});
  REQUIRE(sweep.parameters.size() == 1);
  const ParameterSweep& level = sweep.parameters[0];
  CHECK_FALSE(level.scan_step);
  int checked = 0;
  for (int centivolts = 400; centivolts <= 600; ++centivolts) {
    const Rational value = Rational::fraction(centivolts, 100);
    CompileOptions options;
    options.settings = {"level=" + std::to_string(centivolts * 10) + "mV"};
    FindingSink findings;
    const Compiled compiled = compile(files, "p.ramp", options, findings);
    static_cast<void>(predict(compiled, read_load(compiled, files, findings), {}, findings));
    bool inside = false;
    for (const Interval& interval : level.intervals) {
      inside = inside || (interval.low.value.value <= value && value <= interval.high.value.value);
    }
    CHECK(inside == !findings.has_errors());
    ++checked;
  }
  CHECK(checked == 201);
  CHECK(level.tried == checked);
}

TEST_CASE("a sweep is the same on any number of threads") {
  HeldTexts files = held_profile();
  Request request;
  request.vary = {read_vary("level=4 V..6 V step 1 mV")};
  const ParameterSweep one = run(files, "p.ramp", {}, request, {.threads = 1}).parameters.at(0);
  const ParameterSweep four = run(files, "p.ramp", {}, request, {.threads = 4}).parameters.at(0);
  CHECK(one.tried == four.tried);
  REQUIRE(one.intervals.size() == four.intervals.size());
  for (std::size_t i = 0; i < one.intervals.size(); ++i) {
    CHECK(one.intervals[i].low.value == four.intervals[i].low.value);
    CHECK(one.intervals[i].high.value == four.intervals[i].high.value);
    CHECK(one.intervals[i].high.duration_s == four.intervals[i].high.duration_s);
  }
}

TEST_CASE("where nothing holds the least bad value says what stands against it") {
  HeldTexts files = capacitor_profile(R"(param rise = 1 s in 500 ms .. 2 s
run {
  limit core to 2 A
  on core
  ramp core to 33 V over rise
  off core
}
)");
  const Sweep sweep = find(files, {"least", "rise"});
  CHECK_FALSE(sweep.best);
  REQUIRE(sweep.parameters.size() == 1);
  CHECK(sweep.parameters[0].intervals.empty());
  REQUIRE(sweep.parameters[0].least_bad);
  CHECK(sweep.parameters[0].least_bad->first_error->name == "voltage-range");
}

TEST_CASE("what is asked for in a wrong way is refused") {
  for (const char* text : {"", "rise", "rise=", "rise=1 s", "=1 s..2 s", "rise=1 s..2 V", "rise=2 s..1 s",
                           "rise=1 s..2 s step 0 s", "rise=1 s..2 s step 1 V", "rise=1 s..x"}) {
    CAPTURE(text);
    CHECK_THROWS_AS(static_cast<void>(read_vary(text)), Refused);
  }
  CHECK_THROWS_AS(static_cast<void>(read_find({"least"})), Refused);
  CHECK_THROWS_AS(static_cast<void>(read_find({"most", "rise"})), Refused);
  CHECK_THROWS_AS(static_cast<void>(read_find({"greatest", "duration"})), Refused);
  HeldTexts files = held_profile();
  for (const char* text : {"levl=4 V..6 V", "level=4 A..6 A", "level=3 V..6 V", "level=4 V..6 V step 1 pV"}) {
    CAPTURE(text);
    Request request;
    request.vary = {read_vary(text)};
    CHECK_THROWS_AS(static_cast<void>(run(files, "p.ramp", {}, request)), Refused);
  }
}

}  // namespace
}  // namespace rampart::sweep
