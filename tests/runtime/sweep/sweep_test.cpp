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

Sweep find(HeldTexts& files, const std::vector<std::string>& words, const Demand& demand = {}) {
  Request request;
  request.find = read_find(words);
  request.demand = demand;
  return run(files, "p.ramp", {}, request, {.threads = 2});
}

// The same with tolerances.
constexpr const char* kLooseLoad = R"(load: A capacitor and a resistor
rails:
  core:
    elements:
      - {kind: capacitor, capacitance: 10 mF +- 20 %}
      - {kind: resistor, resistance: 10 Ohm +- 10 %}
)";

constexpr const char* kRise = R"(param rise = 2 s in 20 ms .. 5 s
run {
  limit core to 2 A
  on core
  ramp core to 5 V over rise
  dwell 1 s
  off core
}
expect peak_current(core) <= 950 mA
)";

std::string text_of(const Best& best) {
  return to_text(best.trial.value);
}

TEST_CASE("the fastest ramp into a capacitor beside a resistor is that of the closed form") {
  // At the end of a ramp of T to V the current is C·V/T + V/R, the definition of capacitance and Ohm's law. It is I at
  // T = C·V / (I - V/R) = 10 mF · 5 V / (0.95 A - 0.5 A) = 111.11 ms; the next that a grid of 1 ms has is 112 ms.
  HeldTexts files = capacitor_profile(R"(param rise = 2 s in 20 ms .. 100 s
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
  // 99,981 values, of which a thousand are tried and what it takes to follow the border.
  CHECK(sweep.parameters.at(0).scan_step);
  CHECK(sweep.parameters.at(0).trials.size() < 1050);
}

TEST_CASE("the shortest run and the one of least energy are those with the fastest ramp that holds") {
  // The ramp is all of the run that changes. Into a resistor the energy of a ramp of T is V^2 T / (3 R), and that in
  // the capacitor is the same at any speed.
  HeldTexts files = capacitor_profile(kRise);
  for (const std::vector<std::string>& words :
       {std::vector<std::string>{"least", "duration"}, {"least", "energy(core)"}, {"least", "energy(total)"}}) {
    const Sweep sweep = find(files, words);
    REQUIRE(sweep.best);
    CHECK(sweep.best->setting == "rise=112ms");
    CHECK(sweep.best->confirmed);
  }
}

TEST_CASE("what is looked for holds in all corners, by default") {
  // With C at 12 mF and R at 9 Ohm: T = C·V / (I - V/R) = 60 mAs / (0.95 A - 5/9 A) = 152.11 ms.
  HeldTexts files = capacitor_profile(kRise);
  files.hold("c.load.yaml", kLooseLoad);
  const Sweep sweep = find(files, {"least", "rise"});
  REQUIRE(sweep.best);
  CHECK(text_of(*sweep.best) == "153 ms");
  CHECK(sweep.best->confirmed);
  CHECK(sweep.best->corners == 4);
  REQUIRE(sweep.best->beyond);
  CHECK(to_text(sweep.best->beyond->value) == "152 ms");
  REQUIRE(sweep.best->beyond->first_error);
  CHECK(sweep.best->beyond->first_error->message.find("in 1 of 4 corners") != std::string::npos);
  // The interval is of the plain run.
  CHECK(to_text(sweep.parameters.at(0).intervals.at(0).low.value) == "112 ms");
  const Sweep nominal = find(files, {"least", "rise"}, {.corners = false});
  REQUIRE(nominal.best);
  CHECK(text_of(*nominal.best) == "112 ms");
  CHECK(nominal.best->corners == 0);
}

TEST_CASE("as much of each limit is kept as is asked for") {
  // 10 % of 950 mA left: T = C·V / (0.9 I - V/R) = 50 mAs / (0.855 A - 0.5 A) = 140.85 ms.
  HeldTexts files = capacitor_profile(kRise);
  const Sweep sweep = find(files, {"least", "rise"}, {.corners = false, .keep = read_keep("10%")});
  REQUIRE(sweep.best);
  CHECK(text_of(*sweep.best) == "141 ms");
  CHECK(sweep.best->confirmed);
  REQUIRE(sweep.best->beyond);
  CHECK(sweep.best->beyond->errors.empty());
  REQUIRE(sweep.best->beyond->too_little);
  CHECK(sweep.best->beyond->too_little->of == "`peak_current(core) <= 950 mA`");
  CHECK(sweep.best->beyond->too_little->limit == test::relative(0.95, 1e-12));
  // The same in corners: 60 mAs / (0.855 A - 5/9 A) = 200.37 ms.
  files.hold("c.load.yaml", kLooseLoad);
  const Sweep loose = find(files, {"least", "rise"}, {.corners = true, .keep = read_keep("10 %")});
  REQUIRE(loose.best);
  CHECK(text_of(*loose.best) == "201 ms");
  REQUIRE(loose.best->beyond);
  REQUIRE(loose.best->beyond->too_little);
  CHECK(loose.best->beyond->too_little->corner.find("12 mF") != std::string::npos);
}

TEST_CASE("the greatest level before an overpower protection acts is that of Ohm's law") {
  // V = sqrt(P·R) = sqrt(4 W · 10 Ohm) = 6.3246 V; with 11 % kept sqrt(35.6) = 5.967 V; with the least resistance of
  // 8.8 Ohm sqrt(35.2) = 5.933 V.
  HeldTexts files = capacitor_profile(R"(param level = 5 V in 1 V .. 9 V
protect core { overpower 4 W }
run {
  limit core to 2 A
  on core
  ramp core to level over 20 s
  dwell 20 s
  off core
}
)");
  files.hold("c.load.yaml", "load: R\nrails:\n  core:\n    elements: [{kind: resistor, resistance: 10 Ohm +- 12 %}]\n");
  const Sweep nominal = find(files, {"greatest", "level"}, {.corners = false});
  REQUIRE(nominal.best);
  CHECK(text_of(*nominal.best) == "6.32 V");
  CHECK(nominal.best->beyond->first_error->name == "trip-predicted");
  const Sweep kept = find(files, {"greatest", "level"}, {.corners = false, .keep = 0.11});
  REQUIRE(kept.best);
  CHECK(text_of(*kept.best) == "5.96 V");
  const Sweep corners = find(files, {"greatest", "level"});
  REQUIRE(corners.best);
  CHECK(text_of(*corners.best) == "5.93 V");
}

TEST_CASE("where nothing holds in all corners, what comes nearest says in how many it fails") {
  // At 1 W the resistor may take 3.162 V nominally and 3 V where it has 9 Ohm: from 3.05 V on a corner fails.
  HeldTexts files = capacitor_profile(R"(param level = 3.1 V in 3.05 V .. 9 V
protect core { overpower 1 W }
run {
  limit core to 2 A
  on core
  ramp core to level over 20 s
  dwell 20 s
  off core
}
)");
  files.hold("c.load.yaml", "load: R\nrails:\n  core:\n    elements: [{kind: resistor, resistance: 10 Ohm +- 10 %}]\n");
  const Sweep sweep = find(files, {"greatest", "level"});
  CHECK_FALSE(sweep.best);
  REQUIRE(sweep.nearest);
  CHECK(sweep.nearest->corners == 1);
  CHECK(sweep.nearest->tried == 2);
  REQUIRE(sweep.nearest->trial.first_error);
  CHECK(sweep.nearest->trial.first_error->message.find("9 Ohm") != std::string::npos);
}

// Charged to the level, and at rest at the mark.
const std::string kLevelAtMark = R"(
run {
  limit core to 2 A
  on core
  ramp core to level over 20 s
  dwell 20 s
  mark "up"
  off core
})";

TEST_CASE("where nothing holds, the value comes nearest that misses its bound by least") {
  // A resistor of 10 Ohm takes V/R: 0.3 A at 3 V and 0.2 A at 2 V.
  HeldTexts files = capacitor_profile("param level = 2.5 V in 2 V .. 3 V" + kLevelAtMark + R"(
expect current(core) at "up" >= 400 mA
)");
  const Sweep sweep = find(files, {"least", "level"}, {.corners = false});
  CHECK_FALSE(sweep.best);
  REQUIRE(sweep.nearest);
  CHECK(to_text(sweep.nearest->trial.value) == "3 V");
  REQUIRE(sweep.nearest->trial.missed.size() == 1);
  CHECK(sweep.nearest->trial.missed.front() == test::relative(0.25, 1e-9));
  REQUIRE(sweep.parameters.front().least_bad);
  CHECK(to_text(sweep.parameters.front().least_bad->value) == "3 V");
}

TEST_CASE("what is missed by as much everywhere does not decide what comes nearest, nor does what has no measure win") {
  // The level never comes to 4 V in 20 s; the run lasts 20 s and more, whatever the level. A limit of 0 A is an error
  // that has no measure.
  HeldTexts levels = capacitor_profile(R"(param level = 2.5 V in 2 V .. 3 V
run {
  limit core to 2 A
  on core
  ramp core to level over 20 s
  mark "up"
  off core
}
expect voltage(core) at "up" >= 4 V
expect duration <= 1 s
)");
  const Sweep of_levels = find(levels, {"least", "level"}, {.corners = false});
  REQUIRE(of_levels.nearest);
  CHECK(to_text(of_levels.nearest->trial.value) == "3 V");
  HeldTexts limits = capacitor_profile(R"(param most = 0.1 A in 0 A .. 0.3 A
run {
  limit core to most
  on core
  step core to 9 V
  await core >= 8 V within 100 ms
  off core
}
)");
  // 10 mF at 0.3 A rise by 3 V in 0.1 s, less what the resistor takes.
  const Sweep of_limits = find(limits, {"least", "most"}, {.corners = false});
  REQUIRE(of_limits.nearest);
  CHECK(to_text(of_limits.nearest->trial.value) == "300 mA");
}

TEST_CASE("where all fail in some corner, the value comes nearest that fails in the fewest") {
  // With 9 to 11 Ohm: the current at the mark is to lie between 0.26 and 0.27 A.
  // At 10 Ohm that is 2.6 V to 2.7 V, at 9 Ohm 2.34 V to 2.43 V, at 11 Ohm 2.86 V to 2.97 V: no level suits two of
  // them, and those of the first range alone hold in a plain run.
  HeldTexts files = capacitor_profile("param level = 2.65 V in 2 V .. 4 V" + kLevelAtMark + R"(
expect current(core) at "up" >= 260 mA
expect current(core) at "up" <= 270 mA
)");
  files.hold("c.load.yaml", kLooseLoad);
  const Sweep sweep = find(files, {"least", "level"});
  CHECK_FALSE(sweep.best);
  REQUIRE(sweep.nearest);
  // All of them fail in each of the four corners. What is missed by least: 0.26 A - V/11 Ohm as far as V/9 Ohm - 0.27
  // A, each as a share of its bound: V = 2 / (1 / (9 · 0.27) + 1 / (11 · 0.26)) = 2.6276 V.
  CHECK(sweep.nearest->corners == 4);
  CHECK(to_text(sweep.nearest->trial.value) == "2.63 V");
}

TEST_CASE("the border of a map is that of the closed form in each row") {
  // T = C·V / (I - V/R) in each row of V.
  HeldTexts files = capacitor_profile(R"(param rise = 2 s in 20 ms .. 5 s
param level = 5 V in 1 V .. 9 V
run {
  limit core to 2 A
  on core
  ramp core to level over rise
  dwell 1 s
  off core
}
expect peak_current(core) <= 953 mA
)");
  Request request;
  request.vary = {read_vary("rise=20ms..5s"), read_vary("level=1 V..9 V step 500 mV")};
  const Sweep sweep = run(files, "p.ramp", {}, request, {.threads = 2});
  REQUIRE(sweep.map);
  CHECK(sweep.parameters.empty());
  CHECK(sweep.map->across.values.size() == static_cast<std::size_t>(kMapColumns) + 1);  // and 2 s
  REQUIRE(sweep.map->rows.size() == 17);
  int checked = 0;
  for (const MapRow& row : sweep.map->rows) {
    const double volts = row.value.value.to_double();
    const double least_s = 10e-3 * volts / (0.953 - volts / 10);
    REQUIRE(row.intervals.size() == 1);
    const Interval& interval = row.intervals[0];
    CHECK(interval.low.value.value.to_double() ==
          test::relative(std::max(20e-3, std::ceil(least_s * 1e3) * 1e-3), 1e-12));
    CHECK(to_text(interval.high.value) == "5 s");
    for (std::size_t i = 0; i < row.cells.size(); ++i) {
      CHECK(row.cells[i].value == sweep.map->across.values[i]);
      CHECK(row.cells[i].holds() == (row.cells[i].value.value.to_double() >= least_s));
      ++checked;
    }
  }
  CHECK(checked == 17 * 42);
}

TEST_CASE("parts that are joined are the whole") {
  HeldTexts files = capacitor_profile(kRise);
  Request whole;
  whole.vary = {read_vary("rise=20ms..2s")};
  whole.find = read_find({"least", "rise"});
  const Sweep alone = run(files, "p.ramp", {}, whole, {.threads = 2});
  for (const std::int64_t of : {1, 3, 50}) {
    Request joined = whole;
    for (std::int64_t number = 1; number <= of; ++number) {
      Request request = whole;
      request.sharing.part = Part{number, of};
      const Sweep part = run(files, "p.ramp", {}, request, {.threads = 1});
      REQUIRE(part.part);
      joined.sharing.join.push_back({std::to_string(number), part_document(*part.part)});
    }
    const Sweep together = run(files, "p.ramp", {}, joined, {.threads = 1});
    REQUIRE(together.best);
    CHECK(together.best->setting == alone.best->setting);
    REQUIRE(together.parameters.at(0).trials.size() == alone.parameters.at(0).trials.size());
    for (std::size_t i = 0; i < alone.parameters[0].trials.size(); ++i) {
      CHECK(together.parameters[0].trials[i].errors == alone.parameters[0].trials[i].errors);
      CHECK(together.parameters[0].trials[i].energy_J == alone.parameters[0].trials[i].energy_J);
    }
    if (of == 1) continue;
    joined.sharing.join.pop_back();
    CHECK_THROWS_AS(static_cast<void>(run(files, "p.ramp", {}, joined)), PartMistake);
  }
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
  CHECK(level.trials.size() == 201);
}

TEST_CASE("a sweep is the same on any number of threads") {
  HeldTexts files = held_profile();
  Request request;
  request.vary = {read_vary("level=4 V..6 V step 1 mV")};
  const ParameterSweep one = run(files, "p.ramp", {}, request, {.threads = 1}).parameters.at(0);
  const ParameterSweep four = run(files, "p.ramp", {}, request, {.threads = 4}).parameters.at(0);
  CHECK(one.trials.size() == four.trials.size());
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
  CHECK_THROWS_AS(static_cast<void>(read_find({"greatest", "energy(core)"})), Refused);
  for (const char* text : {"", "2", "100%", "-1%", "2 V", "two"}) {
    CAPTURE(text);
    CHECK_THROWS_AS(static_cast<void>(read_keep(text)), Refused);
  }
  HeldTexts files = held_profile();
  for (const char* text : {"levl=4 V..6 V", "level=4 A..6 A", "level=3 V..6 V", "level=4 V..6 V step 1 pV"}) {
    CAPTURE(text);
    Request request;
    request.vary = {read_vary(text)};
    CHECK_THROWS_AS(static_cast<void>(run(files, "p.ramp", {}, request)), Refused);
  }
  CHECK_THROWS_AS(static_cast<void>(find(files, {"least", "energy(cor)"})), Refused);
  Request large;
  large.vary = {read_vary("level=4 V..6 V step 1 mV")};
  large.find = read_find({"least", "rise"});
  CHECK_THROWS_AS(static_cast<void>(run(files, "p.ramp", {}, large)), Refused);
}

TEST_CASE("a range in plain numbers of a parameter in percent says what it was taken for") {
  std::string profile(test::kHeldProfile);
  profile.append("param margin = 5 % in 0.5 % .. 8 %\n");
  HeldTexts files = held_profile(profile);
  Request request;
  request.vary = {read_vary("margin=1..8")};
  try {
    static_cast<void>(run(files, "p.ramp", {}, request));
    FAIL("it was taken");
  } catch (const Refused& refused) {
    CHECK(refused.what.find("not from 100 % to 800 %") != std::string::npos);
  }
}

}  // namespace
}  // namespace rampart::sweep
