#include "runtime/predict/every_fault.h"

#include <doctest/doctest.h>

#include "runtime/play/simulate.h"
#include "tests/support/near.h"
#include "tests/support/simulation_case.h"

using namespace rampart;
using namespace rampart::test;

namespace {

struct Tried {
  SimulationCase plant{{fine_supply(Interpolation::Hold), fine_supply(Interpolation::Hold)}};
  EveryFault result;

  void run(Program program) {
    plant.profile.run = std::move(program);
    FindingSink findings;
    const auto timeline = build_timeline(plant.profile, plant.profile.run, TimelineStart::Off, findings);
    const Table table(plant.profile, plant.bench, *timeline);
    const Simulator simulator(table, nullptr, plant.load);
    result = try_every_fault(simulator, simulator.run());
  }
};

const Program kRun = {limit(0, "1 A"), limit(1, "1 A"), on(0),          on(1),        ramp(0, "5 V", "100 ms"),
                      mark("up"),      dwell("1 s"),    step(1, "5 V"), dwell("1 s"), off(0),
                      off(1)};

}  // namespace

// P = I^2 R at the limit of 1 A into the short of 10 mOhm beside 10 Ohm, for the fuse's 20 ms.
TEST_CASE("every fault: a short lets I2Rt through until the fuse acts") {
  Tried tried;
  tried.plant.rail({resistor(10)}).rail({resistor(10)}).fuse("20 ms", 0, {RailId{1}});
  tried.run(kRun);
  const auto& instants = tried.result.where.instants;
  REQUIRE(instants.size() == 3);
  CHECK(instants[0].kind == InstantKind::RampUp);
  CHECK(instants[0].at.seconds() == 0.05);
  CHECK(instants[1].mark == "up");
  CHECK(instants[1].at.seconds() == 0.1);
  CHECK(instants[2].kind == InstantKind::Dwell);
  CHECK(instants[2].at.seconds() == 0.6);
  REQUIRE(tried.result.faults.size() == 12);
  const TriedFault& shorted = tried.result.faults[4];
  CHECK(shorted.instant == 1);
  CHECK(shorted.kind == FaultKind::Short);
  CHECK(shorted.rail == RailId{0});
  REQUIRE(shorted.caught);
  CHECK(shorted.caught->cause == TripCause::Fuse);
  CHECK(shorted.caught->after_s == relative(0.02, 1e-9));
  CHECK(shorted.let_through_J == relative(0.01 * 10 / 10.01 * 0.02, 1e-9));
  CHECK(shorted.let_through_A2s == relative(0.02, 1e-9));
  REQUIRE(shorted.others.size() == 1);
  CHECK(shorted.others[0].reaction == RailReaction::Tripped);
  CHECK(shorted.others[0].trip->cause == TripCause::Linked);
  const TriedFault& opened = tried.result.faults[5];
  CHECK(opened.kind == FaultKind::Open);
  CHECK_FALSE(opened.caught);
  CHECK(opened.let_through_J == 0);
  CHECK(opened.others[0].reaction == RailReaction::PlayedOn);
}

TEST_CASE("every fault: a rail without a fuse is reported once, at its worst instant") {
  Tried tried;
  tried.plant.rail({resistor(10)}).rail({resistor(10)}).fuse("20 ms", 0);
  tried.run(kRun);
  FindingSink findings;
  report_every_fault(tried.plant.profile, tried.result, findings);
  REQUIRE(findings.findings().size() == 1);
  // 5 V come to the second rail at 1.1 s: 1 A from then on for 1 s.
  CHECK(findings.findings()[0].message ==
        "no protection acts on a short of rail `r2` at 50 ms and 2 other instants: 9.99001 mJ of energy goes into it "
        "before the run ends");
}

TEST_CASE("every fault: at most a hundred instants") {
  Tried tried;
  tried.plant.rail({resistor(10)}).rail({resistor(10)});
  Program program = {limit(0, "1 A"), on(0), step(0, "1 V")};
  for (int i = 0; i < 120; ++i) {
    program.push_back(mark("m" + std::to_string(i)));
    program.push_back(dwell("10 ms"));
  }
  program.push_back(off(0));
  tried.run(program);
  CHECK(tried.result.where.instants.size() == kMaxFaultInstants);
  CHECK(tried.result.where.left_out == 21);
}
