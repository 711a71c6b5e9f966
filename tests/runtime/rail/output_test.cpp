#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "runtime/load/output_traits.h"
#include "tests/support/near.h"
#include "tests/support/simulation_case.h"

using namespace rampart;
using namespace rampart::test;

// What the bench says of an output, each against its closed form.
namespace {

SimulationCase held() {
  return SimulationCase({fine_supply(Interpolation::Hold)});
}

std::size_t count_of(const Simulation& simulation, EventKind kind) {
  std::size_t count = 0;
  for (const Event& event : simulation.events) count += event.kind == kind ? 1 : 0;
  return count;
}

}  // namespace

TEST_CASE("the setpoint moves no faster than the slew") {
  SimulationCase plant = held();
  plant.rail({resistor(10)});
  plant.bench.channels[0].slew = Slew{VoltsPerSecond{number("1 V/ms")}, VoltsPerSecond{number("0.5 V/ms")}, {}};
  const Simulation simulation =
      plant.run({limit(0, "2 A"), on(0), step(0, "10 V"), dwell("30 ms"), step(0, "0 V"), dwell("30 ms")});
  // v^2 / R: a third of the full power during each ramp (10 ms up, 20 ms down), all of it for 20 ms.
  CHECK(simulation.rails[0].energy_J == relative(10 * (10e-3 / 3 + 20e-3 + 20e-3 / 3), 1e-12));
  CHECK(simulation.rails[0].final_voltage_V == 0);
}

TEST_CASE("a slewed setpoint starts at 0 V at every switching on") {
  SimulationCase plant = held();
  plant.rail({resistor(10)});
  plant.bench.channels[0].slew = Slew{VoltsPerSecond{number("1 V/ms")}, VoltsPerSecond{number("1 V/ms")}, {}};
  const Simulation simulation = plant.run(
      {limit(0, "2 A"), on(0), step(0, "10 V"), dwell("10 ms"), off(0), dwell("5 ms"), on(0), dwell("10 ms")});
  CHECK(simulation.rails[0].energy_J == relative(2 * 10 * 10e-3 / 3, 1e-12));
}

TEST_CASE("the regulator charges the output capacitance, the terminals do not feel it") {
  SimulationCase plant = held();
  plant.bench.channels[0].output_capacitance = Farads{number("100 uF")};
  const Simulation simulation = plant.run({limit(0, "100 mA"), on(0), step(0, "10 V"), dwell("50 ms")});
  // dV/dt = I/C.
  CHECK(simulation.rails[0].cc_time_s == relative(100e-6 * 10 / 0.1, 1e-12));
  CHECK(std::abs(simulation.rails[0].energy_J) < 1e-15);
  CHECK(simulation.rails[0].final_voltage_V == relative(10, 1e-9));
}

TEST_CASE("a stiff load takes a peak from the output capacitance in spite of the limit") {
  SimulationCase plant = held();
  plant.bench.channels[0].output_capacitance = Farads{number("100 uF")};
  plant.rail({capacitor(100e-6, 0.5)}, 0.5);
  // Both capacitors charge from one limit; between them nothing flows but what the limit gives.
  const Simulation simulation = plant.run({limit(0, "100 mA"), on(0), step(0, "10 V"), dwell("1 s")});
  CHECK(simulation.rails[0].balance.relative_error < 1e-12);
  CHECK(simulation.rails[0].balance.stored_J == relative(100e-6 * 100 / 2, 1e-9));
}

TEST_CASE("a sink takes the charge of a capacitor back") {
  SimulationCase plant = held();
  plant.rail({capacitor(1e-3)});
  plant.bench.channels[0].sink = Amps{number("100 mA")};
  const Simulation simulation =
      plant.run({limit(0, "1 A"), on(0), step(0, "12 V"), dwell("100 ms"), step(0, "0 V"), dwell("1 s")});
  CHECK(count_of(simulation, EventKind::SinkEnter) == 1);
  CHECK(count_of(simulation, EventKind::HoldingEnter) == 0);
  // C V / I = 0.12 s after the step at 0.1 s.
  const auto exit = std::find_if(simulation.events.begin(), simulation.events.end(),
                                 [](const Event& event) { return event.kind == EventKind::SinkExit; });
  REQUIRE(exit != simulation.events.end());
  CHECK(exit->time_s == relative(0.22, 1e-12));
  CHECK(simulation.rails[0].returned_energy_J == relative(1e-3 * 144 / 2, 1e-12));
  CHECK(std::abs(simulation.rails[0].energy_J) < 1e-12);
}

TEST_CASE("remote sense holds the load's voltage within its headroom") {
  SimulationCase plant = held();
  plant.rail({resistor(10)}, 1);
  plant.profile.rails[0].remote_sense = true;
  const Program program = {limit(0, "2 A"), on(0), step(0, "10 V"), dwell("10 ms")};
  plant.bench.channels[0].remote_sense = RemoteSense{Volts{number("2 V")}};
  const Simulation wide = plant.run(program);
  CHECK(wide.rails[0].final_voltage_V == relative(10, 1e-13));
  CHECK(wide.rails[0].voltage_V.value == relative(11, 1e-13));
  plant.bench.channels[0].remote_sense = RemoteSense{Volts{number("500 mV")}};
  const Simulation narrow = plant.run(program);
  // 500 mV across 1 Ohm of wire: 500 mA through 10 Ohm.
  CHECK(narrow.rails[0].voltage_V.value == relative(5.5, 1e-13));
  CHECK(narrow.rails[0].final_voltage_V == relative(5, 1e-13));
}

TEST_CASE("remote sense with a capacitor at the load settles on the setpoint") {
  SimulationCase plant = held();
  plant.rail({capacitor(1e-3), resistor(10)}, 1);
  plant.profile.rails[0].remote_sense = true;
  plant.bench.channels[0].remote_sense = RemoteSense{Volts{number("3 V")}};
  const Simulation simulation = plant.run({limit(0, "2 A"), on(0), step(0, "10 V"), dwell("100 ms")});
  CHECK(simulation.rails[0].final_voltage_V == relative(10, 1e-12));
  CHECK(simulation.rails[0].balance.relative_error < 1e-12);
  CHECK(simulation.rails[0].voltage_V.value <= 13 * (1 + 1e-12));
}

TEST_CASE("a switched-off output drains the load through its own resistance") {
  SimulationCase plant = held();
  plant.rail({capacitor(100e-6)});
  plant.bench.channels[0].off_resistance = Ohms{number("10 kOhm")};
  const Simulation simulation =
      plant.run({limit(0, "1 A"), on(0), step(0, "10 V"), dwell("100 ms"), off(0), dwell("2 s")});
  CHECK(simulation.rails[0].final_voltage_V == relative(10 * std::exp(-2), 1e-12));
  CHECK(simulation.rails[0].returned_energy_J == relative(100e-6 * 100 / 2 * (1 - std::exp(-4)), 1e-12));
}

TEST_CASE("channels in series and in parallel act as one") {
  SupplySpec supply = fine_supply(Interpolation::Hold);
  supply.channels.push_back(supply.channels[0]);
  for (const Arrangement arrangement : {Arrangement::Series, Arrangement::Parallel}) {
    SimulationCase plant({supply});
    plant.bench.combinations.push_back({"both", arrangement, {ChannelId{0}, ChannelId{1}}, {}});
    plant.profile.rails.resize(1);
    plant.profile.rails[0].output = CombinationId{0};
    plant.rail({resistor(10)});
    const Simulation simulation =
        plant.run({limit(0, "1 A"), on(0), step(0, "20 V"), dwell("1 s"), limit(0, "4 A"), dwell("1 s")});
    // 1 A through 10 Ohm, then 20 V across it.
    CHECK(simulation.rails[0].energy_J == relative(10 + 40, 1e-9));
    CHECK(simulation.rails[0].current_A.value == relative(2, 1e-12));
    CHECK(simulation.rails[0].cc_time_s == relative(1, 1e-9));
  }
}

// Kirchhoff: capacitors and resistors in series and in parallel; in series the least sink bounds the one current.
TEST_CASE("what a combination is at its terminals follows from its members") {
  const auto joined = [](Arrangement arrangement) {
    SupplySpec supply = fine_supply(Interpolation::Hold);
    supply.channels.push_back(supply.channels[0]);
    SimulationCase plant({supply});
    plant.bench.combinations.push_back({"both", arrangement, {ChannelId{0}, ChannelId{1}}, {}});
    plant.profile.rails.resize(1);
    plant.profile.rails[0].output = CombinationId{0};
    const char* const values[][3] = {{"100 mA", "100 uF", "10 kOhm"}, {"300 mA", "300 uF", "30 kOhm"}};
    for (std::size_t i = 0; i < 2; ++i) {
      plant.bench.channels[i].sink = Amps{number(values[i][0])};
      plant.bench.channels[i].output_capacitance = Farads{number(values[i][1])};
      plant.bench.channels[i].off_resistance = Ohms{number(values[i][2])};
    }
    plant.profile.run = {dwell("1 s")};
    FindingSink findings;
    const std::optional<Timeline> timeline =
        build_timeline(plant.profile, plant.profile.run, TimelineStart::Off, findings);
    const Table table(plant.profile, plant.bench, *timeline);
    return output_of(table, table.rails()[0]);
  };
  const RailTerminals series = joined(Arrangement::Series);
  CHECK(series.sink == relative(0.1, 1e-12));
  CHECK(series.capacitance == relative(75e-6, 1e-12));
  CHECK(series.off_resistance.value_or(0) == relative(40e3, 1e-12));
  const RailTerminals parallel = joined(Arrangement::Parallel);
  CHECK(parallel.sink == relative(0.4, 1e-12));
  CHECK(parallel.capacitance == relative(400e-6, 1e-12));
  CHECK(parallel.off_resistance.value_or(0) == relative(7.5e3, 1e-12));
}

TEST_CASE("a reversed rail is the same with the other sign") {
  SimulationCase plant = held();
  plant.rail({resistor(10)}).overvoltage("5.5 V");
  plant.profile.rails[0].reversed = true;
  const Simulation simulation = plant.run({limit(0, "2 A"), on(0), step(0, "-5 V"), dwell("1 s")});
  CHECK(simulation.rails[0].energy_J == relative(2.5, 1e-9));
  CHECK(simulation.rails[0].final_voltage_V == -5);
  CHECK_FALSE(simulation.rails[0].trip);
}

namespace {

// Two channels as one on 10 Ohm, each with a slew or without.
SimulationCase slewed_pair(Arrangement arrangement, std::optional<Slew> first, std::optional<Slew> second) {
  SupplySpec supply = fine_supply(Interpolation::Hold);
  supply.channels.push_back(supply.channels[0]);
  SimulationCase plant({supply});
  plant.bench.channels[0].slew = first;
  plant.bench.channels[1].slew = second;
  plant.bench.combinations.push_back({"both", arrangement, {ChannelId{0}, ChannelId{1}}, {}});
  plant.profile.rails.resize(1);
  plant.profile.rails[0].output = CombinationId{0};
  plant.rail({resistor(10)});
  return plant;
}

Slew slew_of(std::string_view up, std::string_view down) {
  return {VoltsPerSecond{number(up)}, VoltsPerSecond{number(down)}, {}};
}

}  // namespace

// Each channel takes 10 V of the 20 V. Energies are integrals of v^2 / R, piece by piece by hand; from a to b over T:
// (a^2 + a b + b^2) T / (3 R).
TEST_CASE("in series each member moves at its own slew, or at once") {
  const Program up = {limit(0, "9 A"), on(0), step(0, "20 V"), dwell("20 ms")};
  SimulationCase unequal = slewed_pair(Arrangement::Series, slew_of("2 V/ms", "2 V/ms"), slew_of("1 V/ms", "1 V/ms"));
  // 0 to 15 V in 5 ms, to 20 V in 5 ms, 10 ms there.
  CHECK(unequal.run(up).rails[0].energy_J ==
        relative((225 * 5e-3 + (225 + 300 + 400) * 5e-3) / 30 + 40 * 10e-3, 1e-12));
  SimulationCase at_once = slewed_pair(Arrangement::Series, std::nullopt, slew_of("1 V/ms", "1 V/ms"));
  // 10 V at once, to 20 V in 10 ms, 10 ms there.
  CHECK(at_once.run(up).rails[0].energy_J == relative((100 + 200 + 400) * 10e-3 / 30 + 40 * 10e-3, 1e-12));
}

TEST_CASE("in parallel the member that stands highest carries the rail") {
  // Up in 5 ms, 15 ms there, down by the slower one in 20 ms.
  const Program program = {limit(0, "9 A"), on(0), step(0, "20 V"), dwell("20 ms"), step(0, "0 V"), dwell("30 ms")};
  SimulationCase plant = slewed_pair(Arrangement::Parallel, slew_of("4 V/ms", "4 V/ms"), slew_of("1 V/ms", "1 V/ms"));
  CHECK(plant.run(program).rails[0].energy_J == relative(400 * 5e-3 / 30 + 40 * 15e-3 + 400 * 20e-3 / 30, 1e-12));
  // Left after 10 ms, the slower one at 10 V: down from 20 V by the faster one in 2.5 ms as far as 10 V - 2.5 V, where
  // the slower one takes over: at t ms after the step they are at 20 - 4 t and 10 - t, so at 10 / 3 ms and 20 / 3 V.
  const Program early = {limit(0, "9 A"), on(0), step(0, "20 V"), dwell("10 ms"), step(0, "0 V"), dwell("30 ms")};
  const double cross = 20.0 / 3;
  CHECK(plant.run(early).rails[0].energy_J ==
        relative(400 * 5e-3 / 30 + 40 * 5e-3 + (400 + 20 * cross + cross * cross) * (10e-3 / 3) / 30 +
                     cross * cross * (20e-3 / 3) / 30,
                 1e-12));
}

// U = R I with no current: what is switched off at the last instant stands at 0 V if nothing is stored, and a capacitor
// keeps its charge.
TEST_CASE("a rail ends as the last row leaves it") {
  for (const bool stores : {false, true}) {
    SimulationCase plant = held();
    plant.rail({stores ? capacitor(1e-3) : resistor(24)});
    const Simulation simulation = plant.run({limit(0, "2 A"), on(0), step(0, "1.8 V"), dwell("1 s"), off(0)});
    CHECK(simulation.rails[0].final_voltage_V == relative(stores ? 1.8 : 0, 1e-12));
  }
}
