#include "runtime/circuit/stiff_step.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <complex>

#include "tests/support/dice.h"
#include "tests/support/near.h"

using namespace rampart;
using namespace rampart::circuit;
using namespace rampart::test;

namespace {

// x' = -k (x - drive), the drive standing still or rising.
struct Relaxation {
  double decay;
  double rise;
  [[nodiscard]] double at(double t, double start) const {
    // Behind the drive by what it rises in one time constant.
    const double behind = rise / decay;
    return rise * t - behind + (start + behind) * std::exp(-decay * t);
  }
};

// How many steps it takes to `end`, with the course checked at every node and between them.
int follow(const Relaxation& way, double start, double end) {
  StiffStep stepper(2, 1e-9, 1e-11);
  std::vector<double> state{start, 0};
  const Rates rates = [&](const double* x, double* result) {
    result[0] = -way.decay * (x[0] - x[1]);
    result[1] = way.rise;
  };
  const RateSlopes slopes = [&](const double*, StateSlopes& result) {
    result.reset(2);
    result.own[0] = -way.decay;
    result.by_port[0] = way.decay;
    result.port[1] = 1;
  };
  double time = 0;
  int steps = 0;
  for (; end - time > 1e-12 * end && steps < 1000; ++steps) {
    const double length = stepper.take(state, rates, slopes, end - time, 1e-15);
    REQUIRE_FALSE(stepper.damped());
    std::array<double, kNodes> values{};
    for (std::size_t node = 0; node < kNodes; ++node) values[node] = stepper.at_node(node)[0];
    const std::vector<double> weights = through_nodes(values);
    for (const double share : {0.03, 0.1, 0.3, 0.55, 0.8, 0.95, 1.0}) {
      double course = 0;
      for (std::size_t n = kNodes; n-- > 0;) course = course * share + weights[n];
      const double found = way.at(time + share * length, start);
      CHECK(course == absolute(found, 2e-9 * std::abs(state[0]) + 2e-11));
    }
    state = stepper.at_node(kNodes - 1);
    time += length;
  }
  return steps;
}

}  // namespace

// The closed form of x' = -k (x - r t). A method of low order would need hundreds of steps for so little error.
TEST_CASE("steps follow a relaxation at every instant, in few steps and at any speed") {
  for (const double decay : {1e-3, 1.0, 1e3, 1e9}) {
    CAPTURE(decay);
    CHECK(follow({decay, 0}, 5, 30 / decay) <= 40);
    CHECK(follow({decay, 2 * decay}, 1, 30 / decay) <= 40);
  }
}

// What has come to rest is one step, however fast it would come back to it.
TEST_CASE("a state at rest is left alone in one step") {
  CHECK(follow({1e6, 0}, 0, 1) == 1);
}

// What it finds, put into the equations.
// x' = 1 + x^2 has no x with x = x0 + h x' above h = 1/2. What lasts as long as the step has to be one step, however
// short those are that would lead somewhere.
TEST_CASE("a state that no damped step leads from stays for the whole step") {
  StiffStep stepper(2, 1e-9, 1e-11);
  const Rates rates = [](const double* x, double* result) {
    result[0] = 1 + x[0] * x[0];
    result[1] = 0;
  };
  const RateSlopes slopes = [](const double* x, StateSlopes& result) {
    result.reset(2);
    result.own[0] = 2 * x[0];
  };
  CHECK(stepper.take({0.0, 0.0}, rates, slopes, 1e9, 1e9) == 1e9);
  CHECK(stepper.damped());
  CHECK(stepper.at_node(kNodes - 1)[0] == 0);
}

TEST_CASE("the solver for states side by side solves its equations") {
  Dice dice(20'261'129);
  for (int example = 0; example < 200; ++example) {
    const auto count = static_cast<std::size_t>(1 + dice.up_to(7));
    StateSlopes slopes;
    slopes.reset(count);
    for (std::size_t i = 0; i < count; ++i) {
      slopes.own[i] = -dice.between(0.01, 1e4);
      slopes.by_port[i] = dice.between(0.01, 1e4);
      slopes.port[i] = dice.between(0.01, 1) / static_cast<double>(count + 1);
    }
    for (std::size_t row = 0; row < std::min<std::size_t>(count, static_cast<std::size_t>(dice.up_to(2))); ++row) {
      std::vector<double>& values = slopes.add_row(row);
      for (double& value : values) value = dice.between(0.01, 100);
      values[row] = -dice.between(1e3, 1e4);
    }
    const auto draw = [&dice](double low) {
      const double re = dice.between(low, 1);
      return std::complex<double>(re, dice.between(low, 1));
    };
    const std::complex<double> shift = draw(1e-4);
    std::vector<std::complex<double>> right;
    for (std::size_t i = 0; i < count; ++i) right.push_back(draw(0.1));
    std::vector<std::complex<double>> found = right;
    ShiftedSlopes solver;
    solver.prepare(slopes, shift);
    solver.solve(found.data());
    std::vector<double> real;
    std::vector<double> imaginary;
    double most = 0;
    for (const std::complex<double>& value : found) {
      real.push_back(value.real());
      imaginary.push_back(value.imag());
      most = std::max(most, std::abs(value));
    }
    std::vector<double> real_rates(count);
    std::vector<double> imaginary_rates(count);
    slopes.multiply(real.data(), real_rates.data());
    slopes.multiply(imaginary.data(), imaginary_rates.data());
    for (std::size_t i = 0; i < count; ++i) {
      const std::complex<double> left = found[i] - shift * std::complex(real_rates[i], imaginary_rates[i]);
      CHECK(std::abs(left - right[i]) == absolute(0, 1e-14 * (1 + std::abs(shift) * 2e4 * most)));
    }
  }
}
