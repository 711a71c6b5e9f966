#include <doctest/doctest.h>

#include "runtime/play/simulate.h"
#include "tests/support/near.h"
#include "tests/support/simulation_case.h"

using namespace rampart;
using namespace rampart::test;

// The instants follow from Ohm's law and the delays that are set.
namespace {

Line output_line(LineTrigger trigger, std::vector<RailId> rails) {
  Line line;
  line.name = "line";
  line.is_output = true;
  line.trigger = trigger;
  line.rails = std::move(rails);
  return line;
}

Line interlock(std::vector<RailId> rails) {
  Line line;
  line.name = "stop";
  line.trigger = LineTrigger::SwitchOff;
  line.rails = std::move(rails);
  return line;
}

SimulationCase two_rails() {
  SimulationCase plant({fine_supply(Interpolation::Hold), fine_supply(Interpolation::Hold)});
  plant.rail({resistor(10)}).rail({resistor(10)});
  return plant;
}

const Program kOneSecond = {limit(0, "1 A"), limit(1, "1 A"), on(0),       on(1),
                            step(0, "5 V"),  step(1, "5 V"),  dwell("1 s")};

std::vector<std::pair<double, bool>> levels(const Simulation& simulation) {
  std::vector<std::pair<double, bool>> result;
  for (const Event& event : simulation.events) {
    if (event.line) result.emplace_back(event.time_s, event.kind == EventKind::LineHigh);
  }
  return result;
}

}  // namespace

TEST_CASE("a line that shows a trip goes high with it and stays") {
  SimulationCase plant = two_rails();
  plant.profile.lines.push_back(output_line(LineTrigger::Trip, {RailId{0}}));
  plant.fuse("20 ms").fault("500 ms", {resistor(1)});
  const auto found = levels(plant.run(kOneSecond));
  REQUIRE(found.size() == 1);
  CHECK(found[0].first == relative(0.52, 1e-12));
  CHECK(found[0].second);
}

TEST_CASE("a line that shows constant current follows it") {
  SimulationCase plant = two_rails();
  plant.profile.lines.push_back(output_line(LineTrigger::ConstantCurrent, {RailId{0}, RailId{1}}));
  // 5 V over 10 Ohm are 0.5 A: over 0.4 A from 0.2 s to 0.3 s.
  const Program program = {limit(0, "1 A"), limit(1, "1 A"),    on(0),           on(1),           step(0, "5 V"),
                           dwell("200 ms"), limit(0, "400 mA"), dwell("100 ms"), limit(0, "1 A"), dwell("100 ms")};
  const auto found = levels(plant.run(program));
  REQUIRE(found.size() == 2);
  CHECK(found[0] == std::pair(0.2, true));
  CHECK(found[1] == std::pair(0.3, false));
}

TEST_CASE("an interlock switches its rails off for good, and the others play on without safe") {
  SimulationCase plant = two_rails();
  plant.profile.lines.push_back(interlock({RailId{0}}));
  plant.incidents.assertion = Assertion{LineId{0}, Instant{time("400 ms"), 0}};
  Program program = kOneSecond;
  program.push_back(off(0));
  program.push_back(on(0));
  program.push_back(dwell("1 s"));
  const Simulation simulation = plant.run(program);
  CHECK(simulation.asserted);
  CHECK(simulation.duration_s == 2.0);
  // V^2 / R times the time on.
  CHECK(simulation.rails[0].energy_J == relative(2.5 * 0.4, 1e-12));
  CHECK(simulation.rails[1].energy_J == relative(2.5 * 2.0, 1e-12));
  CHECK_FALSE(simulation.rails[0].trip);
}

TEST_CASE("an interlock plays safe where there is one") {
  SimulationCase plant = two_rails();
  plant.profile.lines.push_back(interlock({RailId{0}}));
  plant.profile.safe = Program{dwell("100 ms"), off(1), off(0)};
  plant.incidents.assertion = Assertion{LineId{0}, Instant{time("400 ms"), 0}};
  const Simulation simulation = plant.run(kOneSecond);
  CHECK(simulation.safe_played);
  CHECK(simulation.duration_s == relative(0.5, 1e-12));
  CHECK(simulation.rails[0].energy_J == relative(2.5 * 0.4, 1e-12));
  CHECK(simulation.rails[1].energy_J == relative(2.5 * 0.5, 1e-12));
}

TEST_CASE("an interlock among a million passes acts in its own pass") {
  SimulationCase plant = two_rails();
  plant.profile.lines.push_back(interlock({RailId{0}}));
  plant.incidents.assertion = Assertion{LineId{0}, Instant{time("300000.5 s"), 0}};
  const Simulation simulation = plant.run({limit(0, "1 A"), on(0), step(0, "5 V"), repeat(1'000'000, {dwell("1 s")})});
  CHECK(simulation.rails[0].energy_J == relative(2.5 * 300000.5, 1e-12));
}
