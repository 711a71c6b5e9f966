#include <doctest/doctest.h>

#include <string>

#include "tests/support/reference_circuit.h"
#include "tests/support/simulation_case.h"

using namespace rampart;
using namespace rampart::test;

// The same circuits by SUNDIALS CVODE with root finding, written down independently: agreement to 1e-6 in energy,
// charge, time in constant current and time of trip.
namespace {

// A straight piece of a program: to a voltage in a time, at a limit.
struct Leg {
  const char* to;
  const char* over;  // "0 s": a step
  const char* dwell;
};

struct Case {
  const char* name;
  std::vector<LoadElement> load;
  Elements reference;
  double wire;
  const char* limit;
  std::vector<Leg> legs;
  const char* fuse = nullptr;
};

// Steps are played by a supply that holds, ramps by one that interpolates: a case has only one of them.
void compare(const Case& example) {
  INFO(std::string(example.name));
  bool steps = true;
  for (const Leg& leg : example.legs) steps = steps && std::string(leg.over) == "0 s";
  SimulationCase simulated({fine_supply(steps ? Interpolation::Hold : Interpolation::Linear)});
  simulated.rail(example.load, example.wire);
  ReferenceCircuit reference;
  reference.wire = example.wire;
  reference.elements = example.reference;
  if (example.fuse != nullptr) {
    simulated.fuse(example.fuse);
    reference.fuse_delay = number(example.fuse).to_double();
  }
  Program program = {limit(0, example.limit), on(0), dwell("1 ms")};
  const double amps = number(example.limit).to_double();
  std::vector<ReferencePiece> pieces = {{1e-3, 0, 0, amps, true}};
  double voltage = 0;
  for (const Leg& leg : example.legs) {
    const double target = number(leg.to).to_double();
    program.push_back(steps ? step(0, leg.to) : ramp(0, leg.to, leg.over));
    program.push_back(dwell(leg.dwell));
    pieces.push_back({number(leg.over).to_double(), steps ? target : voltage, target, amps, true});
    pieces.push_back({number(leg.dwell).to_double(), target, target, amps, true});
    voltage = target;
  }
  const Simulation simulation = simulated.run(program);
  const RailFigures& figures = simulation.rails[0];
  const ReferenceAnswer answer = reference.play(pieces);
  CHECK(figures.energy_J == doctest::Approx(answer.energy).epsilon(1e-6));
  CHECK(figures.charge_C == doctest::Approx(answer.charge).epsilon(1e-6));
  CHECK(figures.cc_time_s == doctest::Approx(answer.cc_time).epsilon(1e-6).scale(1e-3));
  // The reference ends with a trip.
  if (!answer.fuse_time) {
    CHECK(figures.final_voltage_V == doctest::Approx(answer.port_voltage).epsilon(1e-6).scale(1e-3));
  }
  CHECK(figures.trip.has_value() == answer.fuse_time.has_value());
  if (figures.trip && answer.fuse_time) {
    CHECK(figures.trip->time_s == doctest::Approx(*answer.fuse_time).epsilon(1e-6));
  }
}

}  // namespace

TEST_CASE("linear circuits agree with CVODE") {
  const std::vector<Case> cases = {
      {"inrush of a bulk capacitor in constant current",
       {capacitor(470e-6, 60e-3), resistor(24)},
       {reference_capacitor(470e-6, 60e-3), reference_resistor(24)},
       40e-3,
       "700 mA",
       {{"5 V", "0 s", "100 ms"}}},
      {"power cycle with holding on the way down",
       {capacitor(1e-3, 50e-3), resistor(24)},
       {reference_capacitor(1e-3, 50e-3), reference_resistor(24)},
       10e-3,
       "600 mA",
       {{"12 V", "50 ms", "200 ms"}, {"0 V", "50 ms", "100 ms"}}},
      {"two capacitors of unlike speed",
       {capacitor(2200e-6, 0.2), capacitor(10e-6, 5e-3), resistor(10)},
       {reference_capacitor(2200e-6, 0.2), reference_capacitor(10e-6, 5e-3), reference_resistor(10)},
       50e-3,
       "2 A",
       {{"9 V", "5 ms", "50 ms"}, {"3 V", "5 ms", "100 ms"}}},
      {"capacitor at the port behind a long wire",
       {capacitor(100e-6), resistor(47)},
       {reference_capacitor(100e-6, 0), reference_resistor(47)},
       0.5,
       "1 A",
       {{"24 V", "0 s", "10 ms"}, {"12 V", "0 s", "10 ms"}}},
      {"relay coil",
       {inductor(0.2, 60), resistor(1000)},
       {reference_inductor(0.2, 60), reference_resistor(1000)},
       0.1,
       "300 mA",
       {{"12 V", "2 ms", "50 ms"}}},
      {"coil into a limit",
       {inductor(50e-3, 4), resistor(100)},
       {reference_inductor(50e-3, 4), reference_resistor(100)},
       0.1,
       "1.5 A",
       {{"10 V", "0 s", "100 ms"}}},
      {"coil and capacitor ring",
       {inductor(1e-3, 0.5), capacitor(100e-6, 20e-3), resistor(20)},
       {reference_inductor(1e-3, 0.5), reference_capacitor(100e-6, 20e-3), reference_resistor(20)},
       0.3,
       "30 A",
       {{"5 V", "1 ms", "10 ms"}}},
      {"battery on charge in constant current",
       {source(11.5, 0.3)},
       {reference_source(11.5, 0.3)},
       0.05,
       "2 A",
       {{"12.8 V", "500 ms", "1 s"}, {"11 V", "100 ms", "100 ms"}}},
      {"fuse that trips in the inrush",
       {capacitor(4700e-6, 30e-3), resistor(50)},
       {reference_capacitor(4700e-6, 30e-3), reference_resistor(50)},
       30e-3,
       "1 A",
       {{"12 V", "10 ms", "200 ms"}},
       "20 ms"},
      {"fuse that just outlasts the inrush",
       {capacitor(470e-6, 30e-3), resistor(50)},
       {reference_capacitor(470e-6, 30e-3), reference_resistor(50)},
       30e-3,
       "1 A",
       {{"12 V", "1 ms", "200 ms"}},
       "20 ms"},
  };
  for (const Case& example : cases) compare(example);
}
