#include <doctest/doctest.h>

#include <cmath>

#include "tests/support/near.h"
#include "tests/support/simulation_case.h"

using namespace rampart;
using namespace rampart::test;

// What `measure` reads, against closed forms: Ohm's law, i = C dv/dt, and the integral of exp(-t / tau), which is
// tau (exp(-a / tau) - exp(-b / tau)) from a to b.
namespace {

const TakenReading& reading(const Simulation& simulation, std::string_view name, std::size_t number = 0) {
  for (const TakenReading& one : simulation.readings) {
    if (one.name == name && number-- == 0) return one;
  }
  FAIL("no such reading");
  return simulation.readings.front();
}

// 1 V for 10 ms, then 3 V for 30 ms: 2.5 V in the mean.
const Program kTwoLevels = {step(0, "1 V"), dwell("10 ms"), step(0, "3 V"), dwell("30 ms")};

Simulation run_into_10_ohms(Program program) {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({resistor(10)});
  Program whole = {limit(0, "1 A"), on(0), dwell("20 ms")};
  whole.insert(whole.end(), program.begin(), program.end());
  return plant.run(std::move(whole));
}

}  // namespace

// 1 mF behind 1 Ohm from 5 V at 1 A: the current stays at 1 A until the terminals, at 1 Ohm * 1 A + t * 1 A / 1 mF,
// come to 5 V at t1 = 4 ms. From there it is 1 A * exp(-(t - t1) / tau) with tau = 1 ms.
TEST_CASE("the mean over a charge in constant current and after it") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({capacitor(1e-3)}, 1);
  const Simulation simulation = plant.run({limit(0, "1 A"), on(0), step(0, "5 V"), dwell("6 ms"),
                                           measure("late", "1 ms"), dwell("4 ms"), measure("all", "10 ms")});
  const double tau = 1e-3;
  const RailReading& all = *reading(simulation, "all").rails[0];
  CHECK(all.voltage_V == relative((4e-3 + 500 * 16e-6 + 5 * 6e-3) / 10e-3, 1e-11));
  CHECK(all.current_A == relative((4e-3 + tau * (1 - std::exp(-6.0))) / 10e-3, 1e-11));
  const RailReading& late = *reading(simulation, "late").rails[0];
  CHECK(late.voltage_V == relative(5, 1e-11));
  CHECK(late.current_A == relative(tau * (std::exp(-1.0) - std::exp(-2.0)) / 1e-3, 1e-11));
  CHECK(reading(simulation, "all").time_s == 10e-3);
}

// 1 mF beside 100 Ohm, open at 5 V: tau = 100 ms. A mark in between cuts the course.
TEST_CASE("the mean over a discharge") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({capacitor(1e-3), resistor(100)});
  for (const bool cut : {false, true}) {
    CAPTURE(cut);
    Program program = {limit(0, "10 A"), on(0), step(0, "5 V"), dwell("1 s"), off(0), dwell("70 ms")};
    if (cut) program.push_back(mark("in between"));
    for (Statement& next : Program{dwell("80 ms"), measure("falling", "100 ms")}) program.push_back(std::move(next));
    const Simulation simulation = plant.run(program);
    const RailReading& rail = *reading(simulation, "falling").rails[0];
    CHECK(rail.voltage_V == relative(5 * (std::exp(-0.5) - std::exp(-1.5)), 1e-11));
    CHECK(rail.current_A == absolute(0, 1e-15));
    CHECK_FALSE(rail.unsettled.has_value());
  }
}

// Ohm's law. The difference of two integrals over 48 h would leave seven digits of it.
TEST_CASE("a short reading after a long time keeps its digits") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({capacitor(1e-3, 0.1), resistor(100)}, 0.3);
  const Simulation simulation =
      plant.run({limit(0, "10 A"), on(0), step(0, "5 V"), dwell("48 h"), measure("end", "10 ms")});
  const RailReading& rail = *reading(simulation, "end").rails[0];
  CHECK(rail.voltage_V == relative(5, 1e-14));
  CHECK(rail.current_A == relative(5 / 100.3, 1e-13));
}

// Means of steps: Ohm's law and counting.
TEST_CASE("readings over steps, passes and what follows them") {
  Program loop = kTwoLevels;
  loop.push_back(measure("in a pass", "35 ms"));
  for (const std::int64_t passes : {1, 2, 5, 150, 1'000'000}) {
    CAPTURE(passes);
    Program program = {repeat(passes, loop)};
    if (passes > 100) {
      program.push_back(measure("100 passes", "4 s"));
      program.push_back(measure("and a part", "4010 ms"));
    }
    const Simulation simulation = run_into_10_ohms(program);
    const TakenReading& each = reading(simulation, "in a pass");
    CHECK(each.count == passes);
    CHECK(each.rails[0]->voltage_V == relative((5 * 1 + 30 * 3) / 35.0, 1e-12));
    CHECK(each.rails[0]->current_A == relative((5 * 0.1 + 30 * 0.3) / 35.0, 1e-12));
    if (passes <= 100) continue;
    CHECK(reading(simulation, "100 passes").rails[0]->voltage_V == relative(2.5, 1e-11));
    CHECK(reading(simulation, "and a part").rails[0]->voltage_V == relative((4 * 2.5 + 0.01 * 3) / 4.01, 1e-11));
    REQUIRE(simulation.folded.size() == 1);
    CHECK(simulation.folded[0].simulated < 20);
  }
}

// 20 ms of 0 V before the loop: its first pass reads (10 ms * 0 V + 10 ms * 1 V) / 20 ms, every other one
// (10 ms * 3 V + 10 ms * 1 V) / 20 ms.
TEST_CASE("a reading that reaches back before its pass sees the pass before") {
  const Program loop = {step(0, "1 V"), dwell("10 ms"), measure("back", "20 ms"), step(0, "3 V"), dwell("30 ms")};
  for (const std::int64_t passes : {2, 3, 10, 100'000}) {
    CAPTURE(passes);
    const Simulation simulation = run_into_10_ohms({repeat(passes, loop)});
    CHECK(reading(simulation, "back").count == 1);
    CHECK(reading(simulation, "back").rails[0]->voltage_V == relative(0.5, 1e-12));
    CHECK(reading(simulation, "back", 1).count == passes - 1);
    CHECK(reading(simulation, "back", 1).rails[0]->voltage_V == relative(2, 1e-12));
  }
}

// A step to 5 V at 100 V/s is within 1 % of it after 49.5 ms.
TEST_CASE("a reading that begins before the rail is there is not settled") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({resistor(10)});
  plant.bench.channels[0].slew = Slew{{number("100 V/s")}, {number("100 V/s")}, {}};
  const Program start = {limit(0, "1 A"), on(0), dwell("10 ms"), step(0, "5 V")};
  for (const std::pair<const char*, double>& one : {std::pair("60 ms", 9.5e-3), std::pair("40 ms", 0.0)}) {
    const char* const over = one.first;
    const double late = one.second;
    CAPTURE(over);
    Program program = start;
    program.push_back(dwell("100 ms"));
    program.push_back(measure("rail", over));
    const Simulation simulation = plant.run(program);
    const RailReading& rail = *reading(simulation, "rail").rails[0];
    REQUIRE(rail.unsettled.has_value() == (late > 0));
    if (late > 0) CHECK(*rail.unsettled->late_s == relative(late, 1e-9));
  }
}
