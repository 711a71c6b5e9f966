#include "runtime/scenario/simulator.h"

#include <doctest/doctest.h>

#include <map>
#include <thread>

#include "compiler/compile/compile.h"
#include "tests/support/held_profile.h"
#include "tests/support/margin_of.h"
#include "tests/support/near.h"

namespace rampart {
namespace {

using test::relative;

// A profile, and what plays it.
struct Plant {
  explicit Plant(const std::string& profile, const std::string& load = test::kHeldLoad)
      : files(test::held_profile(profile)) {
    files.hold("board.load.yaml", load);
    compiled = compile(files, "p.ramp", {}, findings);
    REQUIRE(compiled.run() != nullptr);
    simulator.emplace(compiled, read_load(compiled, files, findings));
  }
  HeldTexts files;
  FindingSink findings;
  Compiled compiled;
  std::optional<Simulator> simulator;
};

constexpr const char* kHead = R"(bench "one.bench.yaml"
load "board.load.yaml"
rail core on bench.ch1
protect core {
  overvoltage 7 V
  fuse after 100 ms
}
safe { off core }
)";

// Adds up how long the pieces of each rail are, with those of repeated passes.
class LengthSink final : public CourseSink {
 public:
  void take(std::size_t index, const RailRun& /*rail*/, double /*sign*/, const Instant& /*from*/,
            double length) override {
    lengths[index] += length;
  }
  void repeat(const Instant& from, const Instant& to, std::int64_t times) override {
    for (auto& [index, length] : lengths) length += static_cast<double>(times) * to.since(from);
    repeated += times;
  }
  std::map<std::size_t, double> lengths;
  std::int64_t repeated = 0;
};

TEST_CASE("a fuse that does not act is watched all the same") {
  // A short of 10 mOhm at the limit of 1 A: the fuse's condition holds from the start to the end.
  const Plant plant(
      std::string(kHead) + "run { limit core to 1 A\n on core\n step core to 5 V\n dwell 1 s\n off core }",
      "load: Short\nrails: {core: {elements: [{kind: resistor, resistance: 10 mOhm}]}}\n");
  const Simulation trips = plant.simulator->run();
  REQUIRE(trips.rails[0].trip);
  CHECK(trips.rails[0].trip->time_s == relative(0.1, 1e-9));
  Scenario scenario;
  scenario.fuses_act = false;
  const Simulation goes_on = plant.simulator->run(scenario);
  CHECK_FALSE(goes_on.rails[0].trip);
  CHECK(goes_on.duration_s == relative(1, 1e-12));
  // E = I^2 R t.
  CHECK(goes_on.rails[0].energy_J == relative(0.01, 1e-9));
}

TEST_CASE("tolerances move a run without touching its load") {
  const Plant plant(test::kHeldProfile);
  REQUIRE(plant.simulator->tolerances().size() == 1);
  CHECK(plant.simulator->tolerances()[0].name == "resistance of resistor 1 of core");
  Scenario low;
  low.at = Positions{-1};
  // Ohm's law: 5 V on 10 Ohm less 10 %.
  CHECK(plant.simulator->run(low).rails[0].current_A.value == relative(5.0 / 9, 1e-9));
  CHECK(plant.simulator->run().rails[0].current_A.value == relative(0.5, 1e-9));
}

TEST_CASE("a sink hears of every second of a run, and of passes that are added") {
  const Plant plant(
      std::string(kHead) +
      "run { limit core to 1 A\n on core\n repeat 1000 {\n step core to 5 V\n dwell 1 s\n step core to 2 V\n"
      " dwell 1 s\n }\n off core }");
  LengthSink sink;
  const Simulation simulation = plant.simulator->run({}, &sink);
  CHECK(sink.repeated > 900);
  CHECK(sink.lengths.at(0) == relative(simulation.duration_s, 1e-9));
  // It changes nothing of the answer.
  CHECK(plant.simulator->run().total_energy_J == relative(simulation.total_energy_J, 1e-12));
}

TEST_CASE("observed waits take the place of those that the profile has") {
  const Plant plant(std::string(kHead) +
                    "run { limit core to 1 A\n on core\n repeat 4 {\n step core to 5 V\n await operator \"look\" "
                    "within 100 s assume 3 s\n"
                    " step core to 2 V\n dwell 1 s\n }\n await core <= 2.5 V within 10 s\n off core }");
  CHECK(plant.simulator->run().duration_s == relative(4 * (3 + 1), 1e-9));
  Scenario scenario;
  for (const int seconds : {2, 7, 1, 4, 5}) scenario.waits.emplace_back(std::chrono::seconds(seconds));
  const Simulation simulation = plant.simulator->run(scenario);
  CHECK(simulation.duration_s == relative(2 + 7 + 1 + 4 + 5 + 4, 1e-9));
  // P = V^2 / R: 25 V^2 for 14 s and 4 V^2 for 9 s on 10 Ohm.
  CHECK(simulation.total_energy_J == relative((25.0 * 14 + 4.0 * 9) / 10, 1e-6));
  // Those beyond the list are as the profile says.
  scenario.waits.resize(2);
  CHECK(plant.simulator->run(scenario).duration_s == relative(2 + 7 + 3 + 3 + 4, 1e-9));
}

TEST_CASE("threads may share a simulator") {
  const Plant plant(test::kHeldProfile);
  const double alone = plant.simulator->run().total_energy_J;
  std::vector<double> energies(4);
  {
    std::vector<std::jthread> threads;
    for (double& energy : energies) {
      threads.emplace_back([&] { energy = plant.simulator->run().total_energy_J; });
    }
  }
  for (const double energy : energies) CHECK(energy == alone);
}

TEST_CASE("a run can be stopped") {
  const Plant plant(std::string(kHead) + "run { limit core to 1 A\n on core\n ramp core to 5 V over 1 h\n off core }");
  std::stop_source source;
  Job job{.stop = source.get_token()};
  job.progress = [&](std::size_t, std::size_t) { source.request_stop(); };
  CHECK_THROWS_AS(static_cast<void>(plant.simulator->run({}, nullptr, job)), JobStopped);
}

}  // namespace
}  // namespace rampart
