#include "runtime/circuit/damped_step.h"
#include "tests/support/near.h"

#include <doctest/doctest.h>

#include <cmath>

using rampart::test::relative;
using namespace rampart::circuit;

// By definition: x1 = x0 + h f(x1), solved by hand.
TEST_CASE("a damped step goes where its equation says, however long it is") {
  std::vector<double> end;
  const Rates decay = [](const double* x, double* rates) { rates[0] = -1e6 * x[0]; };
  REQUIRE(damped_step({5}, decay, 1, end));
  CHECK(end[0] == relative(5 / (1 + 1e6), 1e-9));

  // A filament that is heated: it comes up to 1 from below.
  const Rates heated = [](const double* x, double* rates) { rates[0] = 1e6 * (1 - std::pow(x[0], 4)); };
  REQUIRE(damped_step({0.1}, heated, 1, end));
  CHECK(end[0] < 1);
  CHECK(end[0] == relative(1, 1e-6));

  // A diode at a capacitance takes what is above its knee.
  const Rates diode = [](const double* x, double* rates) { rates[0] = -1e-9 * std::expm1(x[0] / 0.025) / 1e-6; };
  REQUIRE(damped_step({5}, diode, 1, end));
  CHECK(end[0] + 1e-3 * std::expm1(end[0] / 0.025) == relative(5, 1e-8));
}

// x = x0 + h (1 + x^2) has no solution for h = 1.
TEST_CASE("a damped step that leads nowhere says so") {
  std::vector<double> end;
  CHECK(!damped_step(
      {0}, [](const double* x, double* rates) { rates[0] = 1 + x[0] * x[0]; }, 1, end));
}
