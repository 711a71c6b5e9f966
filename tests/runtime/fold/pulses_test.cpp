#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "runtime/predict/run_findings.h"
#include "tests/support/load_elements.h"
#include "tests/support/margin_of.h"
#include "tests/support/near.h"

using namespace rampart;
using namespace rampart::test;

// Loads that go on by their own clock, over far more periods than anyone would go through one by one; against sums
// over the pulses.

TEST_CASE("pulses of a steady output: power times the share of time") {
  for (const double capacitance : {0.0, 10e-6}) {
    CAPTURE(capacitance);
    SimulationCase simulated({fine_supply(Interpolation::Hold)});
    std::vector<LoadElement> load = {pulses(2, 1e-6, 10e-6)};
    if (capacitance > 0) load.push_back(capacitor(capacitance, 0.05));
    simulated.rail(load, capacitance > 0 ? 0.02 : 0);
    const Simulation simulation = simulated.run({limit(0, "10 A"), on(0), step(0, "5 V"), dwell("3600 s")});
    CHECK(simulation.chatter.empty());
    // Behind the wire 50 uC stay in the capacitor.
    CHECK(simulation.rails[0].charge_C == relative(0.2 * 3600, 1e-6));
    CHECK(simulation.rails[0].energy_J == relative(5 * 0.2 * 3600, 1e-6));
    CHECK(simulation.rails[0].balance.relative_error < 1e-6);
    CHECK(simulation.duration_s == relative(3600, 1e-9));
  }
}

TEST_CASE("pulses that pass after pass come at another time") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({pulses(0.1, 0.1, 0.7)});
  const std::int64_t passes = 700'000;
  const Simulation simulation =
      simulated.run({limit(0, "1 A"), on(0), step(0, "500 mV"),
                     repeat(passes, {dwell("1 s"), step(0, "600 mV"), dwell("1 s"), step(0, "500 mV")})});
  CHECK(simulation.chatter.empty());
  // 20 pulses are 7 passes: 0.5 V in the first second of each, 0.6 V in the other.
  double energy = 0;
  for (int pulse = 0; pulse < 20; ++pulse) {
    for (int ms = 0; ms < 100; ++ms) energy += 0.1 * 1e-3 * ((pulse * 700 + ms) % 2000 < 1000 ? 0.5 : 0.6);
  }
  CHECK(simulation.rails[0].energy_J == relative(energy * static_cast<double>(passes / 7), 1e-9));
  REQUIRE(simulation.folded.size() == 1);
  CHECK(simulation.folded[0].added > passes - 30);
}

// 4,000 pulses of 1.009 ms are 1,009 passes of 4 ms: 0.5 V in the first half of each, 0.6 V in the other; by hand.
TEST_CASE("pulses that come round only after a thousand passes") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({pulses(0.1, 0.1e-3, 1.009e-3)});
  const std::int64_t passes = 1009 * 700;
  const Simulation simulation =
      simulated.run({limit(0, "1 A"), on(0), step(0, "500 mV"),
                     repeat(passes, {dwell("2 ms"), step(0, "600 mV"), dwell("2 ms"), step(0, "500 mV")})});
  CHECK(simulation.chatter.empty());
  CHECK(!simulation.cut_short);
  double energy = 0;
  for (int pulse = 0; pulse < 4000; ++pulse) {
    for (int us = 0; us < 100; ++us) energy += 0.1 * 1e-6 * ((pulse * 1009 + us) % 4000 < 2000 ? 0.5 : 0.6);
  }
  CHECK(simulation.rails[0].energy_J == relative(energy * static_cast<double>(passes / 1009), 1e-9));
  REQUIRE(simulation.folded.size() == 1);
  CHECK(simulation.folded[0].added > passes - 4 * 1009);
}

TEST_CASE("pulses that come round too late for a loop are told after a few passes") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({pulses(0.1, 0.1e-3, 1.000001e-3)});
  const std::int64_t passes = 1'000'000;
  const Simulation simulation =
      simulated.run({limit(0, "1 A"), on(0), step(0, "500 mV"),
                     repeat(passes, {dwell("2 ms"), step(0, "600 mV"), dwell("2 ms"), step(0, "500 mV")})});
  REQUIRE(simulation.cut_short);
  CHECK(simulation.cut_short->unlike_passes == passes);
  CHECK(simulation.cut_short->time_s < 0.1);
}

// 5 W by turns for 1 s in 2 s: T - T_a at the end of pulse n is R P (1 - e^-on/tau) (1 - a^n) / (1 - a).
TEST_CASE("pulses warm the output as their geometric series") {
  const double tau = 120;
  const double a = std::exp(-2 / tau);
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  Thermal thermal;
  thermal.internal_supply = Volts{number("15 V")};
  thermal.resistance = Rational(12);
  thermal.time_constant = Seconds{number("120 s")};
  thermal.ambient = Kelvins{number("298.15 K")};
  thermal.limit = Kelvins{number("343.15 K")};
  simulated.bench.channels[0].thermal = thermal;
  simulated.rail({pulses(1, 1, 2)});
  const Simulation simulation = simulated.run({limit(0, "2 A"), on(0), step(0, "10 V"), dwell("100000 s")});
  CHECK(!simulation.rails[0].trip);
  const double peak = 12 * 5 * -std::expm1(-1 / tau) / (1 - a);
  CHECK(45 - margin_of(simulation, MarginKind::Overtemperature).margin == relative(peak, 1e-7));
  CHECK(simulation.rails[0].energy_J == relative(10 * 50'000, 1e-9));
}

TEST_CASE("pulses without a common measure are followed as far as is sensible, and it is said") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({pulses(1, 1e-6, 10e-6 / 3)});
  const Simulation simulation = simulated.run({limit(0, "2 A"), on(0), step(0, "10 V"), dwell("100 s")});
  REQUIRE(simulation.chatter.size() == 1);
  CHECK(simulation.chatter[0].kind == ChatterKind::Clock);
  CHECK(simulation.chatter[0].cycles > kMaxOwnPieces / 4);
  CHECK(simulation.chatter[0].cycles <= kMaxOwnPieces);
  CHECK(simulation.duration_s == relative(100, 1e-9));
  FindingSink findings;
  report_predictions(simulated.profile, simulated.load, simulation, findings);
  CHECK(std::any_of(findings.findings().begin(), findings.findings().end(),
                    [](const Finding& finding) { return finding.name == "mode-chatter"; }));
}

// A load that stops drawing at 5 V leaves the capacitance of the output there. Up: 2 A into 100 uF to 5 V, then 1 A of
// it, with 1 A into the load; down: 1 A out of it.
TEST_CASE("a capacitance that comes to rest where the load stops drawing") {
  for (const bool pulsed : {false, true}) {
    CAPTURE(pulsed);
    SimulationCase simulated({fine_supply(Interpolation::Hold)});
    simulated.bench.channels[0].output_capacitance = Farads{number("100 uF")};
    LoadElement load = constant_current(1, 5);
    if (pulsed) {
      PulsedCurrentElement element;
      element.current = exactly(1);
      element.on = 1e-3;
      element.period = 10e-3;
      element.from = 5;
      load = {{}, element};
    }
    simulated.rail({load});
    const Simulation simulation =
        simulated.run({limit(0, "2 A"), on(0), step(0, "10 V"), dwell("1 s"), step(0, "0 V"), dwell("10 s")});
    CHECK(simulation.chatter.empty());
    CHECK(simulation.rails[0].final_voltage_V == relative(5, 1e-7));
    const double fall = 100e-6 * (100 - 25) / 2;
    const double whole = pulsed ? 10 * 0.1 : 10;
    // What the rise to 10 V leaves out while it lasts, 750 us of the first pulse.
    const double energy = whole - 10 * 750e-6 + fall + fall;
    CHECK(simulation.rails[0].energy_J == relative(energy, 1e-5));
  }
}

// A diode that blocks takes nothing of a coil's current: the coil keeps it through the output, and it fades as
// exp(-t R / L).
TEST_CASE("a coil that is switched off beside a diode fades by its own resistance") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({inductor(0.01, 5), diode(1e-9, 1.8, 0.1, 300, 10), pulses(0.2, 1e-3, 7e-3)});
  const Simulation simulation =
      simulated.run({limit(0, "2 A"), on(0), step(0, "5 V"), dwell("1 s"), off(0), dwell("4 ms")});
  CHECK(simulation.chatter.empty());
  CHECK(simulation.rails[0].balance.stored_J == relative(0.01 / 2 * std::exp(-2 * 0.004 * 5 / 0.01), 1e-7));
}

// The same out of the current limit, by a current that the pulses leave over.
TEST_CASE("a coil that is switched off at the limit, beside what blocks and pulses, comes to rest") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({inductor(0.01, 5), diode(1e-9, 1.8, 0.1, 300, 10), constant_current(0.2), pulses(0.5, 1e-3, 7e-3)},
                 0.1);
  const Simulation simulation =
      simulated.run({limit(0, "2500 mA"), on(0), step(0, "12 V"), dwell("50 ms"), off(0), dwell("250 ms")});
  CHECK(simulation.chatter.empty());
  CHECK(simulation.rails[0].charge_C == relative(0.125, 1e-9));
  CHECK(simulation.rails[0].balance.relative_error < 1e-6);
}

// In the pulses the coil gives what the limit does not, so the voltage falls to nothing and comes back along the
// exponential of the diodes. What flows is the limit throughout.
TEST_CASE("a coil, diodes, a current and pulses at the limit, and nothing that holds the voltage") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({inductor(0.01, 5), diode(1e-9, 1.8, 0.1, 300, 10), constant_current(0.2), pulses(0.5, 1e-3, 7e-3)},
                 0.1);
  const Simulation simulation =
      simulated.run({limit(0, "2400 mA"), on(0), step(0, "12 V"), dwell("10 s"), off(0), dwell("1 s")});
  CHECK(simulation.chatter.empty());
  CHECK(simulation.rails[0].cc_time_s == relative(10, 1e-9));
  CHECK(simulation.rails[0].charge_C == relative(24, 1e-9));
  CHECK(simulation.rails[0].balance.relative_error < 1e-6);
}
