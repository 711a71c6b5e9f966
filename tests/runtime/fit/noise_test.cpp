#include "runtime/fit/noise.h"

#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <vector>

#include "tests/support/near.h"

using namespace rampart;
using namespace rampart::fit;
using namespace rampart::test;

namespace {

// x(t) = a x(t - 1) + b x(t - 2) + something new of deviation 1.
std::vector<double> noise(std::uint32_t seed, std::size_t count, double a, double b) {
  std::mt19937 dice(seed);
  // Sums of twelve of [0, 1] have a variance of 1; std::normal_distribution differs between libraries.
  const auto fresh = [&dice] {
    double sum = -6;
    for (int i = 0; i < 12; ++i) sum += static_cast<double>(dice()) / 4294967296.0;
    return sum;
  };
  std::vector<double> values(count + 200);
  for (std::size_t i = 2; i < values.size(); ++i) values[i] = a * values[i - 1] + b * values[i - 2] + fresh();
  return {values.begin() + 200, values.end()};
}

double mean_widening(std::size_t count, double a, double b) {
  constexpr std::uint32_t kSeeds = 40;
  double sum = 0;
  for (std::uint32_t seed = 1; seed <= kSeeds; ++seed) sum += widening(correlations(noise(seed, count, a, b)));
  return sum / kSeeds;
}

}  // namespace

TEST_CASE("independent readings are taken for independent") {
  CHECK(mean_widening(400, 0, 0) == relative(1.0, 0.03));
  CHECK(widening({}) == 1);
}

// G. E. P. Box, G. M. Jenkins, "Time Series Analysis", 1976, sections 3.2.3 and 3.2.4, from memory: the variance of a
// long mean is that of what is new over (1 - a - b)², that of a reading (1 - b) / ((1 + b) ((1 - b)² - a²)) of it.
TEST_CASE("correlations widen the error of a mean as those of an autoregression do") {
  for (const std::pair<double, double>& process :
       {std::pair(0.5, 0.0), std::pair(0.8, 0.0), std::pair(-0.4, 0.0), std::pair(0.5, 0.3), std::pair(1.2, -0.5)}) {
    const double a = process.first;
    const double b = process.second;
    CAPTURE(a);
    CAPTURE(b);
    const double of_reading = (1 - b) / ((1 + b) * ((1 - b) * (1 - b) - a * a));
    const double expected = std::sqrt(1 / ((1 - a - b) * (1 - a - b)) / of_reading);
    CHECK(mean_widening(400, a, b) == relative(expected, 0.1));
    CHECK(mean_widening(4000, a, b) == relative(expected, 0.04));
  }
}

TEST_CASE("the correlation of neighbours is that of the process") {
  CHECK(neighbour_correlation(noise(1, 40'000, 0.8, 0)) == relative(0.8, 0.02));
  CHECK(neighbour_correlation(std::vector<double>(100, 0.0)) == 0);
  CHECK(neighbour_correlation(std::vector<double>{1, 2}) == 0);
}

TEST_CASE("readings that are few, equal or nothing have no correlations") {
  CHECK(correlations(std::vector<double>{1, -1, 1}).empty());
  CHECK(correlations(std::vector<double>(50, 0.0)).empty());
  for (const double rho : correlations(std::vector<double>(50, 1.0))) CHECK(std::isfinite(rho));
}

// The sandwich of a constant slope is the variance of a sum: that of a reading times how many there are, times the
// square of what correlations widen.
TEST_CASE("noise adds to slopes as to a sum of readings") {
  const std::vector<double> residuals = noise(3, 2000, 0.6, 0);
  Matrix slopes(2010, 2);
  for (std::size_t row = 10; row < 2010; ++row) {
    slopes(row, 0) = 2;
    slopes(row, 1) = row % 2 == 0 ? 1 : -1;
  }
  Matrix sum(2, 2);
  add_noise(slopes, 10, residuals, sum);
  double square = 0;
  for (const double value : residuals) square += value * value;
  const double widened = widening(correlations(residuals));
  CHECK(sum(0, 0) == relative(4 * square * widened * widened, 0.01));
  // What goes to and fro takes out of noise that goes together: (1 - r) / (1 + r).
  CHECK(sum(1, 1) == relative(square / (widened * widened), 0.05));
  CHECK(std::abs(sum(0, 1)) < 1e-3 * sum(1, 1));
  CHECK(std::abs(sum(1, 0) - sum(0, 1)) < 1e-9);
}
