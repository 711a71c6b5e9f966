#include <doctest/doctest.h>

#include "runtime/play/simulate.h"
#include "tests/support/near.h"
#include "tests/support/simulation_case.h"

using namespace rampart;
using namespace rampart::test;

// Links between two supplies. Energies are V^2 / R times the time on, 2.5 W (Joule's law); the fuse acts 20 ms after
// the short.
namespace {

SimulationCase linked_rails(std::string_view delay) {
  SimulationCase plant({fine_supply(Interpolation::Hold), fine_supply(Interpolation::Hold)});
  plant.rail({resistor(10)}).rail({resistor(10)}).fuse("20 ms", 0, {RailId{1}}).fault("500 ms", {resistor(0.01)});
  plant.bench.links.push_back({"cable", LinkedBy::Wired, {SupplyId{0}, SupplyId{1}}, time(delay), {}});
  return plant;
}

const Program kTwoSeconds = {limit(0, "1 A"), limit(1, "1 A"), on(0),       on(1),
                             step(0, "5 V"),  step(1, "5 V"),  dwell("2 s")};

}  // namespace

TEST_CASE("a linked rail of another supply is off when the delay of the link is over") {
  const Simulation simulation = linked_rails("30 ms").run(kTwoSeconds);
  REQUIRE(simulation.rails[0].trip);
  CHECK(simulation.rails[0].trip->time_s == relative(0.52, 1e-12));
  REQUIRE(simulation.rails[1].trip);
  CHECK(simulation.rails[1].trip->cause == TripCause::Linked);
  CHECK(simulation.rails[1].trip->time_s == relative(0.55, 1e-12));
  CHECK(simulation.rails[1].energy_J == relative(2.5 * 0.55, 1e-12));
}

TEST_CASE("the safe sequence may come before the link, and after it") {
  SimulationCase plant = linked_rails("30 ms");
  plant.profile.safe = Program{dwell("10 ms"), off(1), off(0)};
  const Simulation before = plant.run(kTwoSeconds);
  CHECK_FALSE(before.rails[1].trip);
  CHECK(before.rails[1].energy_J == relative(2.5 * 0.53, 1e-12));
  plant.profile.safe = Program{dwell("100 ms"), off(1), off(0)};
  const Simulation after = plant.run(kTwoSeconds);
  REQUIRE(after.rails[1].trip);
  CHECK(after.rails[1].energy_J == relative(2.5 * 0.55, 1e-12));
  CHECK(after.duration_s == relative(0.62, 1e-12));
}

TEST_CASE("an output that is off when the link acts has not tripped") {
  const Simulation simulation = linked_rails("1 s").run({limit(0, "1 A"), limit(1, "1 A"), on(0), on(1), step(0, "5 V"),
                                                         step(1, "5 V"), dwell("600 ms"), off(1), dwell("2 s")});
  CHECK(simulation.rails[0].trip);
  CHECK_FALSE(simulation.rails[1].trip);
  CHECK(simulation.rails[1].energy_J == relative(2.5 * 0.6, 1e-12));
}

TEST_CASE("a link acts in its own pass among many that are alike") {
  const Simulation simulation = linked_rails("1000.5 s")
                                    .run({limit(0, "1 A"), limit(1, "1 A"), on(0), on(1), step(0, "5 V"),
                                          step(1, "5 V"), repeat(1'000'000, {dwell("1 s")})});
  REQUIRE(simulation.rails[1].trip);
  CHECK(simulation.rails[1].energy_J == relative(2.5 * 1001.02, 1e-12));
}

TEST_CASE("an interlock reaches the rail of another supply by the link, and its own at once") {
  SimulationCase plant = linked_rails("30 ms");
  Line stop;
  stop.name = "stop";
  stop.trigger = LineTrigger::SwitchOff;
  stop.supply = SupplyId{0};
  stop.rails = {RailId{0}, RailId{1}};
  plant.profile.lines.push_back(stop);
  plant.incidents.fault.reset();
  plant.incidents.assertion = Assertion{LineId{0}, Instant{time("400 ms"), 0}};
  const Simulation simulation = plant.run(kTwoSeconds);
  CHECK(simulation.rails[0].energy_J == relative(2.5 * 0.4, 1e-12));
  CHECK(simulation.rails[1].energy_J == relative(2.5 * 0.43, 1e-12));
  CHECK_FALSE(simulation.rails[1].trip);
}

TEST_CASE("a link of one supply with itself delays its own channels") {
  Bench bench = make_bench({fine_supply(), fine_supply()});
  const ChannelId one{0};
  const ChannelId other{1};
  CHECK(bench.link_delay(SupplyId{0}, {&one, 1}) == Nanoseconds(0));
  CHECK_FALSE(bench.link_delay(SupplyId{0}, {&other, 1}));
  bench.links.push_back({"own", LinkedBy::Internal, {SupplyId{0}}, time("5 ms"), {}});
  bench.links.push_back({"cable", LinkedBy::Wired, {SupplyId{0}, SupplyId{1}}, time("20 ms"), {}});
  CHECK(bench.link_delay(SupplyId{0}, {&one, 1}) == time("5 ms"));
  CHECK(bench.link_delay(SupplyId{1}, {&other, 1}) == Nanoseconds(0));
  const ChannelId both[] = {one, other};
  CHECK(bench.link_delay(SupplyId{0}, both) == time("20 ms"));
  CHECK(bench.link_delay({&other, 1}, {&one, 1}) == time("20 ms"));
}
