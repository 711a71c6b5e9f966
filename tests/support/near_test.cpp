#include "tests/support/near.h"

#include <doctest/doctest.h>

#include <limits>

using rampart::test::absolute;
using rampart::test::relative;

TEST_CASE("a relative tolerance is one for small numbers too") {
  CHECK(1.000'000'9e-6 == relative(1e-6, 1e-6));
  CHECK_FALSE(1.000'001'1e-6 == relative(1e-6, 1e-6));
  CHECK(-1e9 == relative(-1e9 - 0.9, 1e-9));
  CHECK_FALSE(-1e9 == relative(-1e9 - 1.1, 1e-9));
  CHECK(0.0 == relative(0, 1e-6));
  CHECK_FALSE(1e-300 == relative(0, 1e-6));
}

TEST_CASE("an absolute tolerance has the unit of the value") {
  CHECK(5.009 == absolute(5, 0.01));
  CHECK_FALSE(5.011 == absolute(5, 0.01));
  CHECK_FALSE(std::numeric_limits<double>::quiet_NaN() == absolute(0, 1));
}
