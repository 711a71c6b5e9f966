#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

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
  CHECK(narrow.rails[0].voltage_V.value == relative(10.5, 1e-13));
  CHECK(narrow.rails[0].final_voltage_V == relative(10.5 * 10 / 11, 1e-13));
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

TEST_CASE("a reversed rail is the same with the other sign") {
  SimulationCase plant = held();
  plant.rail({resistor(10)}).overvoltage("5.5 V");
  plant.profile.rails[0].reversed = true;
  const Simulation simulation = plant.run({limit(0, "2 A"), on(0), step(0, "-5 V"), dwell("1 s")});
  CHECK(simulation.rails[0].energy_J == relative(2.5, 1e-9));
  CHECK(simulation.rails[0].final_voltage_V == -5);
  CHECK_FALSE(simulation.rails[0].trip);
}
