#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "runtime/rail/load_parts.h"
#include "tests/support/dice.h"
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
    program.insert(program.end(), {step(0, "2 V"), dwell("5 ms")});
    const Simulation falling = plant.run(program);
    CHECK(falling.rails[0].final_voltage_V == relative(10 * std::exp(-5 / 11.0), tolerance));
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

// Charged by I, both rise at I / (C_out + C) and the wire carries C's share of I. The output leaves its limit where the
// terminals are at the setpoint, what the load draws by itself being nothing; from there the port closes in on it with
// wire times C. No charge comes from nowhere: I t = C_out V + C v.
TEST_CASE("a sensed capacitor at the port closes in on the setpoint") {
  for (const bool linear : {true, false}) {
    CAPTURE(linear);
    const double tolerance = linear ? 1e-10 : 1e-7;
    SimulationCase plant = sensed("1 mF");
    plant.rail({capacitor(1e-3)}, 0.1);
    if (!linear) plant.load.rails[0].elements.push_back(constant_current(0));
    const double behind = 0.1 * 1 / 2;  // wire times half the limit
    const double filled = (10 + (10 - behind)) * 1e-3 / 1;
    const Simulation early = plant.run({limit(0, "1 A"), on(0), step(0, "10 V"), dwell("20 ms")});
    CHECK(early.rails[0].cc_time_s == relative(filled, tolerance));
    CHECK(early.rails[0].final_voltage_V == relative(10 - behind * std::exp(-(20e-3 - filled) / 100e-6), tolerance));
    CHECK(early.rails[0].voltage_V.value == relative(10, tolerance));
    const Simulation late = plant.run({limit(0, "1 A"), on(0), step(0, "10 V"), dwell("500 ms")});
    CHECK(late.rails[0].final_voltage_V == relative(10, tolerance));
    CHECK(late.rails[0].energy_J == relative(1e-3 * 100 / 2 + late.rails[0].balance.dissipated_wire_J, tolerance));
  }
}

TEST_CASE("a sensed capacitor and a resistor at the port: down as two stores, up again without a jump") {
  for (const bool linear : {true, false}) {
    CAPTURE(linear);
    const double tolerance = linear ? 1e-9 : 1e-7;
    SimulationCase plant = sensed("1 mF");
    plant.rail({ten_ohms(linear), capacitor(1e-3)}, 0.1);
    const Program program = {limit(0, "5 A"), on(0), step(0, "10 V"), dwell("500 ms"), step(0, "1 V"), dwell("1 ms")};
    const Simulation falling = plant.run(program);
    const double wire_rate = 1 / (0.1 * 1e-3);
    const double load_rate = 1 / (10 * 1e-3);
    const double port = first_of_two(-wire_rate - load_rate, wire_rate, wire_rate, -wire_rate, 10, 10.1, 1e-3);
    CHECK(falling.rails[0].final_voltage_V == relative(port, tolerance));
    CHECK(falling.rails[0].balance.relative_error < (linear ? 1e-10 : 1e-7));
  }
}

// The terminals stand 1 V above the load at most, so 1.2 Ohm of wire bring 1 / 1.2 A, whatever is asked for.
TEST_CASE("behind an output capacitance the headroom bounds the drop, and a step down starts from there") {
  for (const bool linear : {true, false}) {
    CAPTURE(linear);
    const double tolerance = linear ? 1e-10 : 1e-7;
    SimulationCase plant = sensed("100 uF");
    plant.bench.channels[0].remote_sense = RemoteSense{Volts{number("1 V")}};
    plant.rail({linear ? resistor(2.5) : curve({{0, 0}, {2.5, 1}})}, 1.2);
    Program program = {limit(0, "4 A"), on(0), step(0, "6 V"), dwell("100 ms")};
    const Simulation bound = plant.run(program);
    CHECK(bound.rails[0].final_voltage_V == relative(2.5 / 1.2, tolerance));
    CHECK(bound.rails[0].voltage_V.value == relative(2.5 / 1.2 + 1, tolerance));
    program.insert(program.end(), {step(0, "4.5 V"), dwell("1 ms")});
    CHECK(plant.run(program).rails[0].final_voltage_V == relative(2.5 / 1.2, tolerance));
    program.insert(program.end(), {step(0, "1 V"), dwell("100 us")});
    // Nothing is given: the capacitance discharges through 3.7 Ohm.
    CHECK(plant.run(program).rails[0].final_voltage_V ==
          relative(2.5 / 1.2 * std::exp(-100e-6 / (100e-6 * 3.7)), tolerance));
    program.push_back(dwell("10 ms"));
    CHECK(plant.run(program).rails[0].final_voltage_V == relative(1, tolerance));
  }
}

// A second load that comes at once pulls the port down, the terminals stay: they are farther above it than remote sense
// may bring them, and the output gives nothing until its capacitance has come down to that.
TEST_CASE("a load that comes at once finds the terminals above their headroom") {
  for (const bool linear : {true, false}) {
    CAPTURE(linear);
    const double tolerance = linear ? 1e-10 : 1e-7;
    SimulationCase plant = sensed("100 uF");
    plant.bench.channels[0].remote_sense = RemoteSense{Volts{number("1 V")}};
    plant.rail({ten_ohms(linear)}, 1);
    plant.fault("100 ms", {linear ? resistor(1) : curve({{0, 0}, {1, 1}})});
    const Program charged = {limit(0, "9 A"), on(0), step(0, "6 V"), dwell("100 ms")};
    Program program = charged;
    program.push_back(dwell("20 us"));
    // 6.6 V over 2 Ohm and 100 uF.
    CHECK(plant.run(program).rails[0].final_voltage_V == relative(3.3 * std::exp(-20e-6 / 200e-6), tolerance));
    program.push_back(dwell("10 ms"));
    CHECK(plant.run(program).rails[0].final_voltage_V == relative(1, tolerance));
  }
}

// The equation of each, for loads, limits and setpoints of any kind: the regulator's charge is what leaves the
// terminals and what the output capacitance holds more, and the terminals do not jump.
TEST_CASE("no charge is lost between the regulator, its capacitance and the load") {
  for (std::uint32_t seed = 1; seed <= 300; ++seed) {
    CAPTURE(seed);
    Dice dice(seed);
    RailLoad load;
    load.wire = exactly(dice.between(1e-2, 2));
    const bool linear = dice.chance(0.5);
    if (dice.chance(0.8)) load.elements.push_back(resistor(dice.between(0.5, 1000)));
    if (dice.chance(0.5)) {
      const double farads = dice.between(1e-6, 1e-2);
      load.elements.push_back(capacitor(farads, dice.between(1e-3, 1)));
    }
    if (dice.chance(0.5)) {
      const double farads = dice.between(1e-6, 1e-2);
      load.elements.push_back(capacitor(farads, 0, dice.chance(0.5) ? 0 : dice.between(0.1, 5)));
    }
    if (dice.chance(0.2)) {
      const double volts = dice.between(0.5, 10);
      load.elements.push_back(source(volts, dice.between(0.1, 10)));
    }
    if (!linear) {
      const double amps = dice.between(1e-2, 2);
      load.elements.push_back(constant_current(amps, dice.chance(0.5) ? 0 : 1));
    }
    RailTerminals output;
    output.capacitance = dice.chance(0.5) ? 47e-6 : 1e-3;
    if (dice.chance(0.8)) output.headroom = dice.between(0.1, 3);
    output.sink = dice.chance(0.3) ? 0.5 : 0;
    const auto circuit = circuit_of(&load, output);
    double given = 0;
    double left = 0;
    double moved = 0;
    double terminals = 0;
    double highest = 1;
    for (int rows = 0; rows < 12; ++rows) {
      circuit::Setting setting;
      setting.on = true;
      setting.voltage = dice.chance(0.2) ? 0 : dice.between(0.1, 20);
      setting.limit = dice.between(0.1, 8);
      double rest = dice.between(1e-5, 5e-2);
      if (dice.chance(0.3)) setting.voltage_slope = (dice.chance(0.5) ? 1 : -1) * setting.voltage / rest;
      highest = std::max(highest, setting.voltage + std::max(0.0, setting.voltage_slope * rest));
      circuit->set(setting);
      circuit->settle();
      for (int pieces = 0; rest > 0; ++pieces) {
        REQUIRE(pieces < 5000);
        circuit->plan(rest);
        const circuit::Piece& piece = circuit->piece();
        CHECK(std::abs(piece.terminal_voltage.value(0) - terminals) < (linear ? 1e-10 : 1e-7) * highest);
        terminals = piece.terminal_voltage.value(1);
        given += piece.length * circuit::integral(piece.regulator_current);
        left += piece.length * circuit::integral(piece.terminal_current);
        moved += piece.length * std::abs(circuit::integral(piece.regulator_current));
        rest -= piece.length;
        const std::optional<circuit::Mode> next = circuit->changes_to();
        circuit->advance();
        if (next) circuit->settle(next);
      }
    }
    CHECK(std::abs(given - left - output.capacitance * terminals) < (linear ? 1e-9 : 1e-6) * (moved + 1e-6));
  }
}
