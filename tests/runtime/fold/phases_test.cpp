#include <doctest/doctest.h>

#include <algorithm>
#include <functional>
#include <stdexcept>

#include "runtime/play/simulate.h"
#include "tests/support/load_elements.h"
#include "tests/support/near.h"
#include "tests/support/resolved.h"

// Passes that are no whole multiple of the supplies' grids, in a loop, against the same passes written out one by one,
// all of which are gone through.

using namespace rampart;
using namespace rampart::test;

namespace {

struct PhaseCase {
  std::string start = "limit a to 1 A\nlimit b to 1 A\non a\non b\n";
  std::string pass;
  std::int64_t passes = 300;
  std::string rules;
  std::vector<SupplySpec> supplies = {SupplySpec{}, SupplySpec{}};
  std::vector<std::vector<LoadElement>> loads = {{capacitor(100e-6), resistor(20)}, {resistor(10)}};
  std::function<void(Profile&)> change = [](Profile&) {};
  std::function<void(Bench&)> change_bench = [](Bench&) {};
  Incidents incidents;

  [[nodiscard]] Simulation play(bool written) const {
    std::string run = start;
    if (written) {
      for (std::int64_t i = 0; i < passes; ++i) run += pass;
    } else {
      run += "repeat " + std::to_string(passes) + " {\n" + pass + "}\n";
    }
    return play_text(run);
  }

  [[nodiscard]] Simulation play_text(const std::string& run) const {
    Bench bench = make_bench(supplies);
    change_bench(bench);
    Resolved resolved(bench, "rail a on s1.ch1\nrail b on s2.ch1\n" + rules + "run {\n" + run + "}\n");
    if (!resolved.profile || !resolved.errors().empty()) throw std::runtime_error(resolved.places());
    change(*resolved.profile);
    Load load;
    for (std::size_t i = 0; i < loads.size(); ++i) {
      RailLoad rail;
      rail.rail = i == 0 ? "a" : "b";
      rail.elements = loads[i];
      rail.wire = exactly(0.05);
      load.rails.push_back(rail);
    }
    const std::optional<Timeline> timeline =
        build_timeline(*resolved.profile, resolved.profile->run, TimelineStart::Off, resolved.findings);
    if (!timeline) throw std::runtime_error(resolved.places());
    return simulate(Table(*resolved.profile, resolved.bench, *timeline), nullptr, load, incidents);
  }
};

void same(double a, double b) {
  CHECK(a == relative(b, 1e-10));
}

void same_peak(const Peak& a, const Peak& b) {
  same(a.value, b.value);
  same(a.time_s, b.time_s);
}

void compare(const Simulation& loop, const Simulation& written) {
  same(loop.duration_s, written.duration_s);
  same(loop.total_energy_J, written.total_energy_J);
  same_peak(loop.total_power_W, written.total_power_W);
  for (std::size_t i = 0; i < loop.rails.size(); ++i) {
    CAPTURE(i);
    const RailFigures& one = loop.rails[i];
    const RailFigures& other = written.rails[i];
    same(one.energy_J, other.energy_J);
    same(one.charge_C, other.charge_C);
    same(one.i2t_A2s, other.i2t_A2s);
    same(one.cc_time_s, other.cc_time_s);
    same(one.final_voltage_V, other.final_voltage_V);
    same_peak(one.current_A, other.current_A);
    same_peak(one.power_W, other.power_W);
    same_peak(one.voltage_V, other.voltage_V);
    same_peak(one.longest_cc_s, other.longest_cc_s);
    CHECK(one.balance.relative_error < 1e-9);
    for (std::size_t k = 0; k < one.balance.dissipated_elements_J.size(); ++k) {
      same(one.balance.dissipated_elements_J[k], other.balance.dissipated_elements_J[k]);
    }
    REQUIRE(one.marks.size() == other.marks.size());
    for (std::size_t k = 0; k < one.marks.size(); ++k) {
      CHECK(one.marks[k].mark == other.marks[k].mark);
      CHECK(one.marks[k].reached == other.marks[k].reached);
      same(one.marks[k].low_voltage_V, other.marks[k].low_voltage_V);
      same(one.marks[k].high_voltage_V, other.marks[k].high_voltage_V);
      same(one.marks[k].low_current_A, other.marks[k].low_current_A);
      same(one.marks[k].high_current_A, other.marks[k].high_current_A);
    }
    REQUIRE(one.trip.has_value() == other.trip.has_value());
    if (one.trip) {
      CHECK(one.trip->cause == other.trip->cause);
      same(one.trip->time_s, other.trip->time_s);
    }
  }
  REQUIRE(loop.margins.size() == written.margins.size());
  for (std::size_t i = 0; i < loop.margins.size(); ++i) {
    CAPTURE(row_of(loop.margins[i].kind).name);
    CHECK(loop.margins[i].kind == written.margins[i].kind);
    same(loop.margins[i].margin, written.margins[i].margin);
    same(loop.margins[i].time_s, written.margins[i].time_s);
  }
  REQUIRE(loop.rules.size() == written.rules.size());
  for (std::size_t i = 0; i < loop.rules.size(); ++i) {
    CAPTURE(i);
    const RuleResult& one = loop.rules[i];
    const RuleResult& other = written.rules[i];
    CHECK(one.exercised);
    CHECK(one.holds == other.holds);
    CHECK(one.holds_as_written == other.holds_as_written);
    REQUIRE(one.margin.has_value() == other.margin.has_value());
    if (one.margin) same(*one.margin, *other.margin);
    if (one.nominal) same(*one.nominal, *other.nominal);
    same(one.time_s, other.time_s);
  }
  REQUIRE(loop.fault.has_value() == written.fault.has_value());
  if (loop.fault) same(loop.fault->energy_J, written.fault->energy_J);
}

// Passes that were added, of all loops.
std::int64_t added(const Simulation& simulation) {
  std::int64_t sum = 0;
  for (const FoldedLoop& loop : simulation.folded) sum += loop.added;
  return sum;
}

// Some 471.43 ms up and as long down: 857.143 us are left over on the grid of 1 ms, and 500,000 passes come round.
const std::string kRamps = "ramp a to 3.3 V at 7 V/s; dwell 100 ms; ramp a to 0 V at 7 V/s; dwell 100 ms\n";

}  // namespace

TEST_CASE("passes that never come round, in a loop and written out") {
  PhaseCase test;
  test.passes = 600;
  test.pass = kRamps;
  SUBCASE("a capacitor and a resistor") {}
  SUBCASE("a mark in the pass") {
    test.pass += "mark \"down\"; step b to 2 V; dwell 20.1 ms; step b to 1 V; dwell 20 ms\n";
  }
  SUBCASE("a capacitor that keeps what a pass leaves in it") {
    test.loads[0] = {capacitor(1e-3, 35), resistor(2000)};
    test.pass = "step a to 5 V; dwell 70.1234 ms; step a to 1 V; dwell 71 ms\n";
  }
  SUBCASE("constant current") {
    test.start = "limit a to 200 mA\nlimit b to 1 A\non a\non b\n";
    test.loads[0] = {capacitor(3e-3), resistor(20)};
  }
  SUBCASE("supplies with grids of their own") {
    test.supplies[1].resolution = "3 ms";
    test.supplies[1].minimum_step = "15 ms";
    test.pass =
        "step a to 5 V; step b to 3 V; dwell 40.123456 ms; step a to 1 V; dwell 35 ms; step b to 4 V; dwell 31 ms\n";
  }
  SUBCASE("supplies that run straight") {
    for (SupplySpec& supply : test.supplies) supply.interpolation = Interpolation::Linear;
    test.pass = "ramp a to 5 V over 60.0371 ms; dwell 60 ms; step a to 1 V; ramp a to 2 V over 60 ms; dwell 33 ms\n";
  }
  SUBCASE("one that holds and one that runs straight") {
    test.supplies[1].interpolation = Interpolation::Linear;
    test.pass = "ramp a to 5 V over 60.0371 ms; ramp b to 3 V over 70 ms; step a to 1 V; step b to 1 V; dwell 50 ms\n";
  }
  SUBCASE("rules of every kind") {
    test.rules =
        "rule \"below\" always a <= 3 V\n"
        "rule \"first\" a >= 1 V before b >= 1 V by 50 ms\n"
        "rule \"soon\" b >= 1 V within 700 ms after a >= 1 V\n"
        "rule \"while\" always current(b) <= 190 mA while a >= 3 V\n"
        "rule \"up\" a rises from 1 V to 3 V within 300 ms\n";
    test.pass =
        "ramp a to 3.3 V at 7 V/s; step b to 2 V; dwell 50 ms; step b to 0 V; ramp a to 0 V at 7 V/s; dwell 100 ms\n";
  }
  SUBCASE("a fault in the middle of it") {
    test.incidents.fault = Injection{RailId{0}, Instant{time("400.0123 s"), 0}, {resistor(40)}};
  }
  const Simulation loop = test.play(false);
  compare(loop, test.play(true));
  CHECK(added(loop) > test.passes / 4);
}

namespace {

void slew(Bench& bench, std::string_view speed) {
  bench.channels[0].slew = Slew{VoltsPerSecond{number(speed)}, VoltsPerSecond{number(speed)}, {}};
}
void switch_late(Bench& bench, std::string_view delay) {
  bench.supplies[0].timing.on_delay = {time(delay), time(delay)};
}
void stand_behind(Bench& bench, std::string_view capacitance) {
  bench.channels[0].output_capacitance = Farads{number(capacitance)};
}

}  // namespace

// The same comparison for what an output does by itself between rows: it goes on over the end of a pass, and begins at
// another instant in each.
TEST_CASE("outputs of their own time in passes that never come round") {
  PhaseCase test;
  test.passes = 600;
  test.pass = "step a to 5 V; dwell 70.1234 ms; step a to 1 V; dwell 41 ms\n";
  const auto sense = [&](std::string_view headroom) {
    test.change = [](Profile& profile) { profile.rails[0].remote_sense = true; };
    return RemoteSense{Volts{number(headroom)}};
  };
  SUBCASE("a switch that closes late") {
    test.pass = "on a; step a to 5 V; dwell 70.1234 ms; off a; dwell 41 ms\n";
    test.change_bench = [](Bench& bench) { switch_late(bench, "23.4567 ms"); };
  }
  SUBCASE("a switch that closes in the next pass") {
    test.start = "limit a to 1 A\nlimit b to 1 A\nstep a to 5 V\non b\non a\ndwell 50 ms\n";
    test.pass = "dwell 30.1234 ms; off a; dwell 41 ms; on a; dwell 12 ms\n";
    test.change_bench = [](Bench& bench) { switch_late(bench, "23.4567 ms"); };
  }
  SUBCASE("a slew that is over before the next row") {
    test.change_bench = [](Bench& bench) { slew(bench, "1 V/ms"); };
  }
  SUBCASE("a slew that is under way as the pass ends") {
    test.pass = "step a to 5 V; dwell 70.1234 ms; step a to 1 V; dwell 41 ms\n";
    test.change_bench = [](Bench& bench) { slew(bench, "80 V/s"); };
  }
  SUBCASE("a slew that never gets where it is sent") {
    test.change_bench = [](Bench& bench) { slew(bench, "40 V/s"); };
  }
  SUBCASE("an output capacitance") {
    test.change_bench = [](Bench& bench) { stand_behind(bench, "470 uF"); };
  }
  SUBCASE("remote sense with an output capacitance") {
    const RemoteSense sensed = sense("100 mV");
    test.change_bench = [sensed](Bench& bench) {
      stand_behind(bench, "470 uF");
      bench.channels[0].remote_sense = sensed;
    };
  }
  SUBCASE("remote sense that runs out of headroom") {
    const RemoteSense sensed = sense("10 mV");
    test.loads[0] = {capacitor(100e-6), resistor(20)};
    test.change_bench = [sensed](Bench& bench) { bench.channels[0].remote_sense = sensed; };
  }
  SUBCASE("all of them together") {
    const RemoteSense sensed = sense("100 mV");
    test.pass = "on a; step a to 5 V; dwell 70.1234 ms; step a to 1 V; dwell 30 ms; off a; dwell 41 ms\n";
    test.change_bench = [sensed](Bench& bench) {
      switch_late(bench, "23.4567 ms");
      slew(bench, "0.2 V/ms");
      stand_behind(bench, "470 uF");
      bench.channels[0].remote_sense = sensed;
    };
  }
  const Simulation loop = test.play(false);
  compare(loop, test.play(true));
  CHECK(added(loop) > test.passes / 4);
}

TEST_CASE("a loop in a loop that never comes round") {
  PhaseCase test;
  const std::string inner = "step a to 5 V; dwell 70.1234 ms; step a to 1 V; dwell 41 ms\n";
  std::string written = test.start;
  for (int outer = 0; outer < 5; ++outer) {
    for (int i = 0; i < 150; ++i) written += inner;
    written += "ramp b to 3 V over 100.77 ms; step b to 0 V; dwell 31 ms\n";
  }
  const Simulation loop = test.play_text(test.start + "repeat 5 { repeat 150 {\n" + inner +
                                         "}\nramp b to 3 V over 100.77 ms; step b to 0 V; dwell 31 ms }\n");
  compare(loop, test.play_text(written));
  CHECK(added(loop) > 500);
}

// On a grid of 1 ms the 10.002 ms at 5 V last 11 ms in 2 of 1,000 passes: only then the fuse of 10.5 ms trips.
TEST_CASE("a fuse that trips at few phases only trips at its own instant") {
  PhaseCase test;
  test.passes = 900;
  test.loads[0] = {resistor(2)};
  test.pass = "step a to 5 V; dwell 10.002 ms; step a to 1 V; dwell 40.005001 ms\n";
  test.change = [](Profile& profile) {
    Fuse fuse;
    fuse.delay.value = time("10.5 ms");
    profile.rails[0].protection.fuse = fuse;
  };
  const Simulation loop = test.play(false);
  const Simulation written = test.play(true);
  compare(loop, written);
  REQUIRE(loop.rails[0].trip);
  CHECK(loop.rails[0].trip->time_s > 1);
  CHECK(added(loop) > 100);
}

// Two days of them cost what an hour costs.
TEST_CASE("what passes that never come round cost") {
  PhaseCase test;
  test.pass = kRamps;
  test.passes = 3'000;
  const Simulation hour = test.play(false);
  test.passes = 150'000;
  const Simulation days = test.play(false);
  CHECK(days.folded[0].simulated <= hour.folded[0].simulated + 100);
  CHECK(days.folded[0].simulated + days.folded[0].added == 150'000);
  CHECK(days.rails[0].energy_J == relative(50 * hour.rails[0].energy_J, 1e-4));
}

// By hand: a resistor takes the square of its voltage for as long as the rows stand apart on the grid of 1 ms. Each of
// the middle and outer passes begins at a phase of its own and has thousands of rows, so looking for alike ones among
// them is given up, and all inner ones are added for each.
TEST_CASE("three loops in each other, none of which comes round") {
  PhaseCase test;
  test.loads = {{resistor(20)}, {resistor(10)}};
  const std::int64_t up = 33'000'001;
  const std::int64_t pass = up + 34'123'457;
  const Simulation loop =
      test.play_text(test.start +
                     "repeat 100 { repeat 100 { repeat 100 {\n"
                     "step a to 3 V; dwell 33.000001 ms; step a to 2 V; dwell 34.123457 ms\n} } }\n");
  const auto row = [](std::int64_t at) { return (at + 500'000) / 1'000'000; };
  std::int64_t at_three = 0;
  std::int64_t at_two = 0;
  for (std::int64_t i = 0; i < 1'000'000; ++i) {
    at_three += row(i * pass + up) - row(i * pass);
    at_two += row((i + 1) * pass) - row(i * pass + up);
  }
  CHECK_FALSE(loop.cut_short);
  const double squares = 9e-3 * static_cast<double>(at_three) + 4e-3 * static_cast<double>(at_two);
  CHECK(loop.rails[0].energy_J == relative(squares / 20.05, 1e-9));
  CHECK(added(loop) > 900'000);
}
