#include "runtime/circuit/stiff_step.h"

// Its checks would repeat the solving of every system.
#define BOOST_UBLAS_NDEBUG

#include <Eigen/Dense>
#include <algorithm>
#include <boost/numeric/odeint/stepper/rosenbrock4.hpp>
#include <boost/numeric/odeint/stepper/rosenbrock4_controller.hpp>
#include <cmath>
#include <numbers>
#include <optional>

namespace rampart::circuit {
namespace {

using Vector = boost::numeric::ublas::vector<double>;
using Matrix = boost::numeric::ublas::matrix<double>;
using Stepper = boost::numeric::odeint::rosenbrock4<double>;
using Controller = boost::numeric::odeint::rosenbrock4_controller<Stepper>;

constexpr double kFirstStep = 1e-6;
// How often a damped step that leads nowhere is quartered before the state is left as it is.
constexpr int kQuarters = 8;

std::array<double, kNodes> make_nodes() {
  std::array<double, kNodes> nodes{};
  for (std::size_t i = 0; i < kNodes; ++i) {
    const double angle = std::numbers::pi * static_cast<double>(i) / static_cast<double>(kNodes - 1);
    nodes[i] = (1 - std::cos(angle)) / 2;
  }
  nodes.front() = 0;
  nodes.back() = 1;
  return nodes;
}

using Square = Eigen::Matrix<double, kNodes, kNodes>;

Square make_inverse() {
  Square powers;
  for (Eigen::Index i = 0; i < powers.rows(); ++i) {
    double power = 1;
    for (Eigen::Index n = 0; n < powers.cols(); ++n) {
      powers(i, n) = power;
      power *= step_nodes()[static_cast<std::size_t>(i)];
    }
  }
  return powers.inverse();
}

}  // namespace

const std::array<double, kNodes>& step_nodes() {
  static const std::array<double, kNodes> kShares = make_nodes();
  return kShares;
}

// Through the differences from the first: rounding is then against how much a quantity moves, and not against its size.
std::vector<double> through_nodes(const std::array<double, kNodes>& values) {
  static const Square kInverse = make_inverse();
  Eigen::Matrix<double, kNodes, 1> column(values.data());
  column.array() -= values.front();
  std::vector<double> weights(kNodes);
  Eigen::Map<Eigen::Matrix<double, kNodes, 1>>(weights.data()) = kInverse * column;
  weights.front() = values.front();
  return weights;
}

struct StiffStep::Work {
  std::size_t count;
  double relative;
  double absolute;
  double loosened = 1;
  std::optional<Controller> controller;
  double next = kFirstStep;
  Vector start;
  Vector end;
  Vector between;

  Work(std::size_t states, double rtol, double atol)
      : count(states), relative(rtol), absolute(atol), start(states), end(states), between(states) {
    renew();
  }
  void renew() { controller.emplace(absolute * loosened, relative * loosened); }
};

StiffStep::StiffStep(std::size_t count, double relative, double absolute)
    : work_(std::make_unique<Work>(count, relative, absolute)) {
  for (auto& values : at_nodes_) values.assign(count, 0.0);
}
StiffStep::StiffStep(const StiffStep& other)
    : work_(std::make_unique<Work>(*other.work_)), damped_(other.damped_), at_nodes_(other.at_nodes_) {}
StiffStep::~StiffStep() = default;

void StiffStep::restart() {
  work_->renew();
  work_->next = kFirstStep;
}

void StiffStep::bound_next(double length) {
  work_->next = std::min(work_->next, length);
}

void StiffStep::loosen(double times) {
  if (work_->loosened == times) return;
  work_->loosened = times;
  work_->renew();
}

double StiffStep::take(const std::vector<double>& state, const Rates& rates, const RateSlopes& slopes, double longest,
                       double shortest) {
  Work& work = *work_;
  std::copy(state.begin(), state.end(), work.start.begin());
  if (work.count == 0) return longest;
  const auto derivative = [&](const Vector& x, Vector& dxdt, double) { rates(&x[0], &dxdt[0]); };
  const auto jacobian = [&](const Vector& x, Matrix& matrix, double, Vector& by_time) {
    std::fill(by_time.begin(), by_time.end(), 0.0);
    slopes(&x[0], &matrix.data()[0]);
  };
  double length = std::min(std::max(work.next, shortest), longest);
  while (true) {
    const double tried = length;
    double time = 0;
    const auto result =
        work.controller->try_step(std::make_pair(derivative, jacobian), work.start, time, work.end, length);
    const bool finite = std::all_of(work.end.begin(), work.end.end(), [](double x) { return std::isfinite(x); });
    if (result == boost::numeric::odeint::success && finite) {
      // A step cut short by the caller says little about the next one.
      work.next = tried < work.next ? std::max(work.next, length) : length;
      fill_nodes(tried);
      damped_ = false;
      return tried;
    }
    if (tried <= shortest) return take_damped(state, rates, tried);
    if (!finite || !(length < tried)) {
      length = tried / 4;
      work.renew();
    }
    length = std::max(length, std::min(shortest, longest));
    work.next = length;
  }
}

double StiffStep::take_damped(const std::vector<double>& state, const Rates& rates, double length) {
  damped_ = true;
  work_->renew();
  work_->next = length;
  std::vector<double> end = state;
  for (int i = 0; i < kQuarters && !damped_step(state, rates, length, end); ++i) length /= 4;
  for (std::size_t node = 0; node < kNodes; ++node) {
    const double share = step_nodes()[node];
    for (std::size_t i = 0; i < state.size(); ++i) at_nodes_[node][i] = state[i] + share * (end[i] - state[i]);
  }
  return length;
}

void StiffStep::fill_nodes(double length) {
  Work& work = *work_;
  work.controller->stepper().prepare_dense_output();
  for (std::size_t node = 0; node < kNodes; ++node) {
    work.controller->stepper().calc_state(step_nodes()[node] * length, work.between, work.start, 0.0, work.end, length);
    std::copy(work.between.begin(), work.between.end(), at_nodes_[node].begin());
  }
}

}  // namespace rampart::circuit
