#include <doctest/doctest.h>

#include <cmath>

#include "tests/support/near.h"
#include "tests/support/simulation_case.h"

using namespace rampart;
using namespace rampart::test;

// Closed forms by Ohm's and Joule's laws and the charging curve of RC and RL (Kuphaldt, Lessons in Electric Circuits,
// Vol. I, "Ohm's Law" and "RC and L/R Time Constants").
namespace {

SimulationCase hold_case() {
  return SimulationCase({fine_supply(Interpolation::Hold)});
}

const Program kTwoSeconds = {limit(0, "1 A"), on(0), step(0, "5 V"), dwell("2 s")};

}  // namespace

// A short of R at the current limit I: I^2 R t until the fuse acts.
TEST_CASE("a short trips the fuse when its delay is over, and lets I2Rt through") {
  SimulationCase plant = hold_case();
  plant.rail({resistor(10)}).fuse("20 ms").fault("1 s", {resistor(0.01)});
  const Simulation simulation = plant.run(kTwoSeconds);
  REQUIRE(simulation.fault);
  CHECK(simulation.fault->time_s == 1.0);
  CHECK(simulation.fault->energy_J == relative(5.0 * 5.0 / 10, 1e-12));
  REQUIRE(simulation.rails[0].trip);
  CHECK(simulation.rails[0].trip->cause == TripCause::Fuse);
  CHECK(simulation.rails[0].trip->time_s == relative(1.02, 1e-12));
  CHECK(simulation.rails[0].energy_J - simulation.fault->energy_J == relative(1.0 * 1.0 * 0.01 * 0.02, 1e-9));
  CHECK(simulation.rails[0].balance.relative_error < 1e-9);
}

TEST_CASE("a capacitor that stays keeps its charge, another one begins anew") {
  SimulationCase plant = hold_case();
  plant.rail({capacitor(1e-3), resistor(10)}).fault("1 s", {capacitor(1e-3), resistor(1)});
  // From 5 V towards I R = 1 V with RC = 1 ms.
  const Program program = {limit(0, "1 A"), on(0), step(0, "5 V"), dwell("1.002 s")};
  const Simulation kept = plant.run(program);
  CHECK(kept.rails[0].final_voltage_V == relative(1 + 4 * std::exp(-2.0), 1e-9));
  CHECK(kept.rails[0].balance.relative_error < 1e-9);
  plant.fault("1 s", {capacitor(1.1e-3), resistor(1)});
  // From 0 V with RC = 1.1 ms.
  const Simulation anew = plant.run(program);
  CHECK(anew.rails[0].final_voltage_V == relative(1 - std::exp(-2.0 / 1.1), 1e-9));
  CHECK(anew.rails[0].balance.relative_error < 1e-9);
}

TEST_CASE("a coil that stays keeps its current, with loads of either kind") {
  for (const bool linear : {true, false}) {
    CAPTURE(linear);
    SimulationCase plant = hold_case();
    LoadElement still{{}, ConstantCurrentElement{exactly(0), 0}};
    std::vector<LoadElement> before{inductor(0.01, 10)};
    std::vector<LoadElement> after{inductor(0.01, 10), resistor(100)};
    if (!linear) after.push_back(still);
    plant.rail(before).fault("1 ms", after);
    // L/R = 1 ms towards 0.5 A, from 0 at 0 s on, not disturbed at 1 ms; the resistor's 50 mA come on top.
    const Simulation simulation = plant.run({limit(0, "2 A"), on(0), step(0, "5 V"), dwell("3 ms")});
    CHECK(simulation.rails[0].current_A.value == relative(0.5 * (1 - std::exp(-3.0)) + 0.05, linear ? 1e-9 : 1e-7));
  }
}

TEST_CASE("the supply's own capacitance keeps its charge") {
  SimulationCase plant = hold_case();
  plant.bench.channels[0].output_capacitance = Farads{number("1 mF")};
  plant.rail({resistor(10)}, 1).fault("1 s", {resistor(1)});
  // Off at that instant: 5 V discharge through 2 Ohm, half of it at the load; RC = 2 ms.
  const Simulation simulation =
      plant.run({limit(0, "1 A"), on(0), step(0, "5 V"), dwell("1 s"), off(0), dwell("2 ms")});
  CHECK(simulation.rails[0].final_voltage_V == relative(2.5 * std::exp(-1.0), 1e-9));
}

// P = V^2 / R before and after; passes on both sides of the fault are folded.
TEST_CASE("a fault among a million passes comes in its own pass") {
  SimulationCase plant = hold_case();
  plant.rail({resistor(10)}).fault("500000.25 s", {resistor(5)});
  const Simulation simulation =
      plant.run({limit(0, "2 A"), on(0), step(0, "5 V"), repeat(1'000'000, {dwell("500 ms"), dwell("500 ms")})});
  REQUIRE(simulation.fault);
  CHECK(simulation.fault->time_s == 500000.25);
  CHECK(simulation.rails[0].energy_J == relative(2.5 * 500000.25 + 5 * 499999.75, 1e-12));
  CHECK(simulation.duration_s == 1e6);
}

TEST_CASE("an open circuit draws nothing, and a fault after the end does not come") {
  SimulationCase plant = hold_case();
  plant.rail({resistor(10)}).fault("1 s", {});
  const Simulation opened = plant.run(kTwoSeconds);
  CHECK(opened.rails[0].energy_J == relative(2.5, 1e-12));
  plant.fault("2 s", {});
  const Simulation late = plant.run(kTwoSeconds);
  CHECK_FALSE(late.fault);
  CHECK(late.rails[0].energy_J == relative(5.0, 1e-12));
}

TEST_CASE("a linked rail switches off with the one that is shorted") {
  std::vector<SupplySpec> supplies{fine_supply(Interpolation::Hold), fine_supply(Interpolation::Hold)};
  SimulationCase plant(supplies);
  plant.rail({resistor(10)}).rail({resistor(10)}).fuse("20 ms", 0, {RailId{1}}).fault("1 s", {resistor(0.01)});
  const Simulation simulation =
      plant.run({limit(0, "1 A"), limit(1, "1 A"), on(0), on(1), step(0, "5 V"), step(1, "5 V"), dwell("2 s")});
  REQUIRE(simulation.rails[1].trip);
  CHECK(simulation.rails[1].trip->cause == TripCause::Linked);
  CHECK(simulation.rails[1].energy_J == relative(2.5 * 1.02, 1e-9));
}
