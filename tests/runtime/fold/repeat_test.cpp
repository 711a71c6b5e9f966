#include <doctest/doctest.h>

#include "tests/support/load_elements.h"
#include "tests/support/near.h"

using namespace rampart;
using namespace rampart::test;

namespace {

// The passes of a loop, folded where they can be, or written out one by one: those are gone through.
Simulation play(SimulationCase plant, const char* amps, std::int64_t passes, const Program& pass, bool written) {
  Program program = {limit(0, amps), on(0)};
  if (written) {
    for (std::int64_t i = 0; i < passes; ++i) program.insert(program.end(), pass.begin(), pass.end());
  } else {
    program.push_back(repeat(passes, pass));
  }
  return plant.run(program);
}

}  // namespace

// 12 V, 1 A, 2 Ohm, 1000 uF from 0 V: 10 ms in constant current, then tau = 2 ms; 0.094 J from the source, 0.072 J
// stored. On the way down the source takes the charge back at 0 V, which is no energy. Computed.
TEST_CASE("a million power cycles are a million times one") {
  SimulationCase plant({fine_supply(Interpolation::Hold)});
  plant.rail({capacitor(1e-3)}, 2);
  plant.bench.channels[0].sink = Amps{number("100 A")};
  const Program pass = {step(0, "12 V"), dwell("200 ms"), step(0, "0 V"), dwell("200 ms")};
  for (const std::int64_t passes : {1, 1'000, 1'000'000}) {
    CAPTURE(passes);
    const Simulation simulation = play(plant, "1 A", passes, pass, false);
    const RailFigures& rail = simulation.rails[0];
    const auto count = static_cast<double>(passes);
    CHECK(rail.energy_J == relative(0.094 * count, 1e-12));
    CHECK(rail.cc_time_s == relative(10e-3 * count, 1e-12));
    CHECK(rail.balance.dissipated_wire_J == relative(0.094 * count, 1e-12));
    CHECK(simulation.duration_s == relative(0.4 * count, 1e-12));
    if (passes == 1) continue;
    REQUIRE(simulation.folded.size() == 1);
    CHECK(simulation.folded[0].simulated <= 4);
    CHECK(simulation.folded[0].simulated + simulation.folded[0].added == passes);
  }
}

// A filament whose heat lasts for hundreds of passes, 10,000 times on and off: what is folded once the
// drift is over, or gone through to the end where it is not, against passes that are all gone through.
TEST_CASE("the slow drift of a lamp") {
  const Program pass = {step(0, "12 V"), dwell("20 ms"), step(0, "0 V"), dwell("30 ms")};
  for (const double heat_capacity : {0.1, 1.0}) {
    CAPTURE(heat_capacity);
    SimulationCase plant({fine_supply(Interpolation::Hold)});
    plant.rail({lamp(heat_capacity)}, 20e-3);
    const Simulation folded = play(plant, "8 A", 10'000, pass, false);
    const Simulation written = play(plant, "8 A", 10'000, pass, true);
    const RailFigures& one = folded.rails[0];
    const RailFigures& other = written.rails[0];
    CHECK(folded.folded.empty() == (heat_capacity > 0.5));
    CHECK(one.energy_J == relative(other.energy_J, 1e-6));
    CHECK(one.charge_C == relative(other.charge_C, 1e-6));
    CHECK(one.cc_time_s == relative(other.cc_time_s, 1e-6));
    CHECK(one.balance.relative_error < 1e-6);
  }
}
