#include "runtime/waveform/exact_course.h"

#include <doctest/doctest.h>

#include <cmath>

#include "tests/support/load_elements.h"
#include "tests/support/near.h"
#include "tests/support/simulation_case.h"

using namespace rampart;
using namespace rampart::test;

namespace {

ExactCourses record(SimulationCase& simulated, const Program& program) {
  ExactRecorder recorder(simulated.load.rails.size());
  simulated.recorder = &recorder;
  static_cast<void>(simulated.run(program));
  simulated.recorder = nullptr;
  return recorder.finish();
}

const Program kCycle = {ramp(0, "12 V", "50 ms"), dwell("200 ms"), ramp(0, "0 V", "50 ms"), dwell("100 ms")};

}  // namespace

// v = V (1 - exp(-t / RC)), i = V / R exp(-t / RC), with RC = 1 s, and their integrals.
TEST_CASE("means over windows of a charge are those of its closed form") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({capacitor(100e-6)}, 10e3);
  const ExactCourses courses = record(simulated, {limit(0, "1 A"), on(0), step(0, "15 V"), dwell("10 s")});
  const ExactCourse& course = courses.rails[0];
  CHECK_FALSE(courses.left_out_from);
  for (const double end : {0.02, 0.3, 1.0, 4.0, 9.9}) {
    for (const double window : {1e-4, 1e-3, 0.02}) {
      CAPTURE(end);
      CAPTURE(window);
      const double faded = (std::exp(-(end - window)) - std::exp(-end)) / window;
      CHECK(course.mean(ExactQuantity::TerminalVoltage, end, window) == relative(15, 1e-9));
      CHECK(course.mean(ExactQuantity::LoadVoltage, end, window) == relative(15 * (1 - faded), 1e-8));
      CHECK(std::abs(course.mean(ExactQuantity::Current, end, window) - 1.5e-3 * faded) < 1e-8 * 1.5e-3);
    }
    CHECK(course.mean(ExactQuantity::LoadVoltage, end, 0) == relative(15 * (1 - std::exp(-end)), 1e-9));
  }
  // After its end the last value holds, and before its begin the first.
  CHECK(course.mean(ExactQuantity::TerminalVoltage, 12, 0.5) == relative(15, 1e-12));
  CHECK(course.mean(ExactQuantity::Current, 12, 0.5) == relative(1.5e-3 * std::exp(-10), 1e-8));
  CHECK(ExactCourse().mean(ExactQuantity::Current, 1, 0.5) == 0);
}

TEST_CASE("means of folded passes are those of passes that are written out") {
  SupplySpec supply = fine_supply(Interpolation::Hold);
  supply.minimum_step = "1 ms";
  SimulationCase plant({supply});
  plant.rail({capacitor(1e-3, 50e-3), resistor(24)}, 10e-3);
  constexpr int kPasses = 50;
  const ExactCourses folded = record(plant, {limit(0, "600 mA"), on(0), repeat(kPasses, kCycle)});
  Program program = {limit(0, "600 mA"), on(0)};
  for (int i = 0; i < kPasses; ++i) program.insert(program.end(), kCycle.begin(), kCycle.end());
  const ExactCourses written = record(plant, program);
  REQUIRE_FALSE(written.left_out_from);
  for (int i = 1; i < kPasses * 40; ++i) {
    const double end = 1e-2 * i + 3.7e-7;
    for (const ExactQuantity quantity :
         {ExactQuantity::TerminalVoltage, ExactQuantity::LoadVoltage, ExactQuantity::Current}) {
      const double a = folded.rails[0].mean(quantity, end, 3e-3);
      CHECK(std::abs(a - written.rails[0].mean(quantity, end, 3e-3)) < 1e-9);
    }
  }
}

// 0.5 A through 10 Ohm, and 0.5 A more for 0.2 s of each second.
TEST_CASE("means over pulses of a load are those of their duty") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({pulses(0.5, 0.2, 1.0), resistor(10)});
  const ExactCourses courses = record(simulated, {limit(0, "10 A"), on(0), step(0, "5 V"), dwell("10000 s")});
  for (const double second : {2.0, 500.0, 9990.0}) {
    CHECK(courses.rails[0].mean(ExactQuantity::Current, second + 0.15, 0.1) == relative(1.0, 1e-9));
    CHECK(courses.rails[0].mean(ExactQuantity::Current, second + 0.7, 1.0) == relative(0.6, 1e-6));
  }
}

TEST_CASE("what is too long to keep is left out, and said") {
  SimulationCase simulated({fine_supply(Interpolation::Hold)});
  simulated.rail({resistor(10)});
  const ExactCourses courses = record(simulated, {limit(0, "10 A"), on(0), ramp(0, "5 V", "300 ms")});
  REQUIRE(courses.left_out_from);
  // A stair a microsecond.
  CHECK(*courses.left_out_from == relative(1e-6 * static_cast<double>(kMaxExactPieces), 1e-3));
}
