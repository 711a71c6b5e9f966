#pragma once

#include <memory>

#include "runtime/answer/simulation.h"
#include "runtime/play/simulate.h"
#include "runtime/waveform/recorder.h"
#include "tests/support/program_builder.h"

// A bench, a program and a load in one, for tests of the simulation.
namespace rampart::test {

inline Toleranced exactly(double value) {
  return {value, value, value};
}

inline LoadElement resistor(double resistance) {
  return {{}, ResistorElement{exactly(resistance)}};
}
inline LoadElement capacitor(double capacitance, double esr = 0, double initial_voltage = 0) {
  return {{}, CapacitorElement{exactly(capacitance), exactly(esr), std::nullopt, initial_voltage}};
}
inline LoadElement inductor(double inductance, double resistance) {
  return {{}, InductorElement{exactly(inductance), exactly(resistance), 0}};
}
inline LoadElement source(double voltage, double resistance) {
  return {{}, SourceElement{exactly(voltage), exactly(resistance)}};
}

// A supply whose counts and grid are so fine that they play no part.
inline SupplySpec fine_supply(Interpolation interpolation = Interpolation::Linear) {
  SupplySpec supply;
  supply.minimum_step = "1 us";
  supply.resolution = "1 us";
  supply.interpolation = interpolation;
  supply.channels[0].voltage_high = "1 kV";
  supply.channels[0].voltage_resolution = "1 uV";
  supply.channels[0].current_high = "1 kA";
  supply.channels[0].current_resolution = "1 uA";
  return supply;
}

struct SimulationCase {
  Bench bench = make_bench({fine_supply()});
  Profile profile = make_profile(bench);
  Load load;
  Incidents incidents;
  CourseSink* recorder = nullptr;  // of run()
  Simulation recorded;             // by record()

  SimulationCase() = default;
  explicit SimulationCase(const std::vector<SupplySpec>& supplies)
      : bench(make_bench(supplies)), profile(make_profile(bench)) {}

  SimulationCase& rail(std::vector<LoadElement> elements, double wire = 0) {
    RailLoad rail;
    rail.rail = "r" + std::to_string(load.rails.size() + 1);
    rail.wire = exactly(wire);
    rail.elements = std::move(elements);
    load.rails.push_back(std::move(rail));
    return *this;
  }
  Protection& protection(std::uint32_t rail = 0) { return profile.rails[rail].protection; }
  SimulationCase& fuse(std::string_view delay, std::uint32_t rail = 0, std::vector<RailId> linked = {}) {
    Fuse fuse;
    fuse.delay.value = time(delay);
    fuse.linked = std::move(linked);
    protection(rail).fuse = fuse;
    return *this;
  }
  SimulationCase& overvoltage(std::string_view level, std::uint32_t rail = 0) {
    protection(rail).overvoltage = Placed<Volts>{Volts{number(level)}, {}};
    return *this;
  }
  SimulationCase& overpower(std::string_view level, std::string_view delay, std::uint32_t rail = 0) {
    Overpower overpower;
    overpower.power.value = Watts{number(level)};
    overpower.delay.value = time(delay);
    protection(rail).overpower = overpower;
    return *this;
  }

  SimulationCase& fault(std::string_view at, std::vector<LoadElement> becomes, std::uint32_t rail = 0) {
    incidents.fault = Injection{RailId{rail}, Instant{time(at), 0}, std::move(becomes)};
    return *this;
  }

  // Runs twice, since the errors that are kept depend on the peaks.
  Waveforms record(const Program& program, WaveOverflow overflow = WaveOverflow::LeaveOut) {
    const Simulation known = run(program);
    WaveRecorder recording(wave_errors(known), overflow);
    recorder = &recording;
    recorded = run(program);
    recorder = nullptr;
    return recording.finish();
  }

  Simulation run(Program program) {
    profile.run = std::move(program);
    FindingSink findings;
    const std::optional<Timeline> timeline = build_timeline(profile, profile.run, TimelineStart::Off, findings);
    const Table table(profile, bench, *timeline);
    if (!profile.safe) return simulate(table, nullptr, load, incidents, recorder);
    const std::optional<Timeline> safe_timeline =
        build_timeline(profile, *profile.safe, TimelineStart::Unknown, findings);
    const Table safe(profile, bench, *safe_timeline);
    return simulate(table, &safe, load, incidents, recorder);
  }
};

}  // namespace rampart::test
