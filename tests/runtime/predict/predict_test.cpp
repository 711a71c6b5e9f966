#include "runtime/predict/predict.h"

#include <doctest/doctest.h>

#include "compiler/compile/compile.h"
#include "tests/support/held_profile.h"
#include "tests/support/near.h"

namespace rampart {
namespace {

using test::held_profile;
using test::names_of;

struct Made {
  HeldTexts files = held_profile();
  FindingSink findings;
  Compiled compiled = compile(files, "p.ramp", {}, findings);
  LoadPtr load = read_load(compiled, files, findings);
};

TEST_CASE("compiling and predicting take no disk and leave their inputs as they are") {
  const Made made;
  REQUIRE(made.compiled.run() != nullptr);
  REQUIRE(made.load != nullptr);
  FindingSink findings;
  const Predictions first = predict(made.compiled, made.load, {}, findings);
  const Predictions again = predict(made.compiled, made.load, {}, findings);
  REQUIRE(first.simulation);
  // Ohm's law: 5 V on 10 Ohm.
  CHECK(first.simulation->rails[0].current_A.value == test::relative(0.5, 1e-9));
  CHECK(again.simulation->total_energy_J == first.simulation->total_energy_J);
  REQUIRE(first.fault_runs.size() == 1);
  CHECK(first.fault_runs[0].fault == "shorted");
  CHECK(first.fault_runs[0].simulation.rails[0].trip);
  CHECK(first.expectations(*made.compiled.profile()).size() == 2);
  CHECK(made.load->rails[0].elements.size() == 1);
}

TEST_CASE("without a load rails are open, and what needs one says so") {
  const Made made;
  FindingSink findings;
  PredictOptions options;
  options.waveforms = WaveOverflow::Condense;
  const Predictions open = predict(made.compiled, nullptr, options, findings);
  CHECK_FALSE(open.simulation);
  CHECK(open.shown() == nullptr);
  REQUIRE(open.waveforms);
  CHECK(open.waveforms->rails.size() == 1);
}

TEST_CASE("a load lacks the faults that a profile speaks of") {
  HeldTexts files = held_profile();
  files.hold("board.load.yaml", "load: A board\nrails: {core: {elements: [{kind: resistor, resistance: 10 Ohm}]}}\n");
  FindingSink findings;
  const Compiled compiled = compile(files, "p.ramp", {}, findings);
  CHECK(read_load(compiled, files, findings) != nullptr);
  CHECK(names_of(findings) == "unknown-name");
}

TEST_CASE("a job that is stopped gives no half of a prediction") {
  const Made made;
  std::stop_source source;
  source.request_stop();
  FindingSink findings;
  CHECK_THROWS_AS(static_cast<void>(predict(made.compiled, made.load, {}, findings, {.stop = source.get_token()})),
                  JobStopped);
}

}  // namespace
}  // namespace rampart
