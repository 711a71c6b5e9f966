#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "tests/support/load_elements.h"
#include "tests/support/near.h"

using namespace rampart;
using namespace rampart::test;

// Remote sense with an output capacitance: the terminals follow the load, and the capacitance with them. Each against
// the closed form of the circuit that remains while the output gives no current, or its limit.
namespace {

SimulationCase sensed(std::string_view output_capacitance) {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.profile.rails[0].remote_sense = true;
  plant.bench.channels[0].remote_sense = RemoteSense{Volts{number("5 V")}};
  plant.bench.channels[0].output_capacitance = Farads{number(output_capacitance)};
  return plant;
}

// x' = a x + b y, y' = c x + d y with real rates: x after t, from the eigenvalues of the two.
double first_of_two(double a, double b, double c, double d, double x, double y, double t) {
  const double middle = (a + d) / 2;
  const double spread = std::sqrt(middle * middle - (a * d - b * c));
  const double slope = a * x + b * y;
  const double fast = middle - spread;
  const double slow = middle + spread;
  const double share = (slope - fast * x) / (slow - fast);
  return share * std::exp(slow * t) + (x - share) * std::exp(fast * t);
}

// Ten ohms by a curve: solved as a load that is not linear.
LoadElement ten_ohms(bool linear) {
  return linear ? resistor(10) : curve({{0, 0}, {10, 1}});
}

}  // namespace

TEST_CASE("a sensed resistor: the output capacitance charges before, and discharges after") {
  for (const bool linear : {true, false}) {
    CAPTURE(linear);
    const double tolerance = linear ? 1e-11 : 1e-7;
    SimulationCase plant = sensed("1 mF");
    plant.rail({ten_ohms(linear)}, 1);
    const double tau = 11e-3;
    Program program = {limit(0, "2 A"), on(0), step(0, "10 V"), dwell("50 ms")};
    const Simulation charged = plant.run(program);
    // 2 A through 11 Ohm would give 22 V; 11 V are needed.
    CHECK(charged.rails[0].cc_time_s == relative(tau * std::log(2), tolerance));
    CHECK(charged.rails[0].final_voltage_V == relative(10, tolerance));
    CHECK(charged.rails[0].voltage_V.value == relative(11, tolerance));
    CHECK(charged.rails[0].balance.output_jumps_C < 1e-3 * 11 * tolerance);
    program.insert(program.end(), {step(0, "2 V"), dwell("5 ms")});
    const Simulation falling = plant.run(program);
    CHECK(falling.rails[0].final_voltage_V == relative(10 * std::exp(-5 / 11.0), tolerance));
    CHECK(falling.rails[0].balance.output_jumps_C < 1e-3 * 11 * tolerance);
    program.push_back(dwell("100 ms"));
    const Simulation settled = plant.run(program);
    CHECK(settled.rails[0].final_voltage_V == relative(2, tolerance));
    CHECK(settled.rails[0].cc_time_s == relative(charged.rails[0].cc_time_s, tolerance));
    CHECK(settled.rails[0].current_A.value == relative(1, tolerance));
    CHECK(settled.rails[0].returned_energy_J == 0);
  }
}

TEST_CASE("a sensed capacitor with series resistance: what both hold goes into the load") {
  for (const bool linear : {true, false}) {
    CAPTURE(linear);
    const double tolerance = linear ? 1e-9 : 1e-7;
    const double wire = 0.02;
    const double esr = 0.01;
    const double load = 10;
    SimulationCase plant = sensed("100 uF");
    plant.rail({ten_ohms(linear), capacitor(1e-3, esr)}, wire);
    const Program program = {limit(0, "2 A"),   on(0),         step(0, "1 V"), dwell("200 ms"),
                             step(0, "500 mV"), dwell("50 us")};
    const Simulation simulation = plant.run(program);
    // Terminals (wire), capacitor (esr) and load meet at the port.
    const double sum = 1 / wire + 1 / esr + 1 / load;
    const double a = (1 / (wire * sum) - 1) / (wire * 100e-6);
    const double b = 1 / (esr * sum) / (wire * 100e-6);
    const double c = 1 / (wire * sum) / (esr * 1e-3);
    const double d = (1 / (esr * sum) - 1) / (esr * 1e-3);
    const double terminals = first_of_two(a, b, c, d, 1 + wire / load, 1, 50e-6);
    const double held = first_of_two(d, c, b, a, 1, 1 + wire / load, 50e-6);
    CHECK(simulation.rails[0].final_voltage_V == relative((terminals / wire + held / esr) / sum, tolerance));
    CHECK(simulation.rails[0].balance.output_jumps_C < 1e-4 * tolerance);
  }
}

// Without a wire the sensed voltage is that of the terminals: the headroom plays no part, and a step charges the
// capacitor at the limit, C V / I.
TEST_CASE("remote sense without a wire changes nothing") {
  for (const bool linear : {true, false}) {
    CAPTURE(linear);
    const double tolerance = linear ? 1e-11 : 1e-7;
    SimulationCase plant = sensed("0 F");
    plant.rail({capacitor(1e-3)});
    if (!linear) plant.load.rails[0].elements.push_back(constant_current(0));
    const Simulation simulation = plant.run({limit(0, "100 mA"), on(0), step(0, "10 V"), dwell("1 s")});
    CHECK(simulation.rails[0].cc_time_s == relative(0.1, tolerance));
    CHECK(simulation.rails[0].voltage_V.value == relative(10, tolerance));
    CHECK(simulation.rails[0].energy_J == relative(0.05, tolerance));
  }
}

TEST_CASE("a sensed capacitor at the port: what the ideal regulator moves at once is told") {
  for (const bool linear : {true, false}) {
    CAPTURE(linear);
    const double tolerance = linear ? 1e-9 : 1e-7;
    SimulationCase plant = sensed("1 mF");
    plant.rail({ten_ohms(linear), capacitor(1e-3)}, 0.1);
    Program program = {limit(0, "5 A"), on(0), step(0, "10 V"), dwell("500 ms")};
    const Simulation charged = plant.run(program);
    // Long after the first rush both rise at (5 A - 1 A by then) / 2 mF, the wire carrying that share and the load's
    // 1 A: 3 A, of which 1 A goes on.
    CHECK(charged.rails[0].balance.output_jumps_C == relative(1e-3 * 0.1 * (3 - 1), 0.02));
    program.insert(program.end(), {step(0, "1 V"), dwell("1 ms")});
    const Simulation falling = plant.run(program);
    const double wire_rate = 1 / (0.1 * 1e-3);
    const double load_rate = 1 / (10 * 1e-3);
    const double port = first_of_two(-wire_rate - load_rate, wire_rate, wire_rate, -wire_rate, 10, 10.1, 1e-3);
    CHECK(falling.rails[0].final_voltage_V == relative(port, tolerance));
    CHECK(falling.rails[0].balance.output_jumps_C == relative(charged.rails[0].balance.output_jumps_C, 1e-4));
    CHECK(falling.rails[0].balance.relative_error < (linear ? 1e-10 : 1e-7));
  }
}
