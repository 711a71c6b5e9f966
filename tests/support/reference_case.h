#pragma once

#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "tests/support/agreement.h"
#include "tests/support/reference_circuit.h"
#include "tests/support/simulation_case.h"

// One circuit and program, played by the simulation and by the reference: agreement to 1e-6.
namespace rampart::test {

// A straight piece of a program: to a voltage in a time, at a limit.
struct ReferenceLeg {
  const char* to;
  const char* over;  // "0 s": a step
  const char* dwell;
};

struct ReferenceCase {
  const char* name;
  std::vector<LoadElement> load;
  Elements reference;
  double wire;
  const char* limit;
  std::vector<ReferenceLeg> legs;
  const char* fuse = nullptr;
};

// Figures of one rail: relative, with a floor of 1 ms and 1 mV.
inline void compare(const RailFigures& figures, const ReferenceAnswer& answer, Agreement& agreement) {
  CHECK(agreement.add(figures.energy_J, answer.energy) < 1e-6);
  CHECK(agreement.add(figures.charge_C, answer.charge) < 1e-6);
  CHECK(agreement.add(figures.cc_time_s, answer.cc_time, 1e-3) < 1e-6);
  // The reference ends with a trip.
  if (!answer.fuse_time) CHECK(agreement.add(figures.final_voltage_V, answer.port_voltage, 1e-3) < 1e-6);
  CHECK(figures.trip.has_value() == answer.fuse_time.has_value());
  if (figures.trip && answer.fuse_time) CHECK(agreement.add(figures.trip->time_s, *answer.fuse_time) < 1e-6);
}

// Steps are played by a supply that holds, ramps by one that interpolates: a case has only one of them.
inline void compare(const ReferenceCase& example) {
  INFO(std::string(example.name));
  bool steps = true;
  for (const ReferenceLeg& leg : example.legs) steps = steps && std::string(leg.over) == "0 s";
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
  for (const ReferenceLeg& leg : example.legs) {
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
  Agreement agreement("SUNDIALS CVODE", example.name);
  compare(figures, answer, agreement);
}

}  // namespace rampart::test
