#include <doctest/doctest.h>

#include <cmath>

#include "tests/support/load_elements.h"
#include "tests/support/near.h"
#include "tests/support/simulation_case.h"

using namespace rampart;
using namespace rampart::test;

namespace {

// At 12 V, then off at the end of the run.
std::optional<double> clears(std::vector<LoadElement> elements) {
  SimulationCase plant({fine_supply(Interpolation::Linear)});
  plant.rail(std::move(elements));
  const Simulation simulation =
      plant.run({limit(0, "1 A"), on(0), ramp(0, "12 V", "1 s"), dwell("1 s"), off(0), dwell("1 us")});
  return simulation.rails[0].clears_s;
}

}  // namespace

// v = V exp(-t / RC): T. R. Kuphaldt, Lessons in Electric Circuits, Vol. I, "Voltage and current calculations".
TEST_CASE("a capacitor is down after R C ln(V / 0.5 V)") {
  const std::optional<double> time = clears({capacitor(1e-3), resistor(2e3)});
  REQUIRE(time);
  CHECK(*time + 1e-6 == relative(2.0 * std::log(12 / 0.5), 1e-12));
}

// C dv/dt = -I below which it does not draw, then the resistor alone.
TEST_CASE("a constant current clears its rail as far as it draws") {
  const std::optional<double> time = clears({capacitor(1e-3), constant_current(0.1)});
  REQUIRE(time);
  CHECK(*time + 1e-6 == relative(1e-3 * (12 - 0.5) / 0.1, 1e-7));
  const std::optional<double> stops = clears({capacitor(1e-3), constant_current(0.1, 6), resistor(2e3)});
  REQUIRE(stops);
  CHECK(*stops > 2.0 * std::log(6 / 0.5));
}

TEST_CASE("nothing clears a capacitor alone, and nothing is left to clear on a resistor") {
  CHECK_FALSE(clears({capacitor(1e-3)}));
  CHECK_FALSE(clears({resistor(10)}));
}
