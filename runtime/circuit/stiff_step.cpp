#include "runtime/circuit/stiff_step.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <complex>
#include <limits>

// Collocation at Radau points (Radau IIA with six stages, E. Hairer, G. Wanner, Solving Ordinary Differential Equations
// II, 1996, sections IV.5 and IV.8).
//
// A step of length h from x0 looks for the polynomial p of degree 6 with p(0) = x0 whose derivative is h f(p) at the
// six nodes. With Z_i = p(c_i) - x0 this is Z = h A F(x0 + Z), where A holds the integrals of the nodes' Lagrange
// polynomials. Newton's method solves it with one matrix a step, I - h A x J, where J is the Jacobian at x0. In the
// eigenvectors of A that matrix falls into three complex ones, I - h l_i J, each as small as the state: A has three
// pairs of complex eigenvalues, and of each pair one is enough.
//
// Error: between the nodes the polynomial misses its equations by a multiple of (t - c_1) ... (t - c_6). At t = 0 that
// is known without any further evaluation, d = p'(0) - h f(x0), and tells the multiple. What comes of it by the step's
// equations is at most kDefectShare of d where they are slow, and d / (h J) where they are stiff; the solution of
// (I - h l J) e = kDefectShare d is both. The course is thus held to the tolerance at every instant of the step; at its
// end the method is far better (order 11).
//
// First step after an event: where x' = f goes by a rate k, f changes with J f = k f. A relaxation that moves a state
// by a share s of itself is fitted to the tolerance up to some k h that rises with the seventh root of tolerance / s.
namespace rampart::circuit {
namespace {

constexpr std::size_t kStages = kNodes - 1;
using Stages = Eigen::Matrix<double, kStages, kStages>;
using StageValues = Eigen::Matrix<double, Eigen::Dynamic, kStages>;

// The zeros of d^5/dt^5 t^5 (t - 1)^6.
constexpr std::array<double, kNodes> kShares{0,
                                             0.0398098570514687423408,
                                             0.1980134178736081725357,
                                             0.4379748102473861440050,
                                             0.6954642733536360945146,
                                             0.9014649142011735738765,
                                             1};
// Largest integral of (t - c_1) ... (t - c_6) from 0, against its value at 0.
constexpr double kDefectShare = 0.0223;
constexpr double kErrorOrder = 7;
constexpr double kCautious = 0.8;
constexpr double kLeastShare = 0.1;
constexpr double kMostGrowth = 8;
// k h of a relaxation that moves a state by all of itself and is just fitted to the tolerance, for a tolerance of 1.
constexpr double kFirstReach = 10;
// Newton's method ends when a correction is this small against the allowed error.
constexpr double kConverged = 1e-3;
constexpr int kMaxIterations = 10;
// How often a damped step that leads nowhere is quartered before the state is left as it is.
constexpr int kQuarters = 8;

using Square = Eigen::Matrix<double, kNodes, kNodes>;

Square make_inverse() {
  Square powers;
  for (Eigen::Index i = 0; i < powers.rows(); ++i) {
    double power = 1;
    for (Eigen::Index n = 0; n < powers.cols(); ++n) {
      powers(i, n) = power;
      power *= kShares[static_cast<std::size_t>(i)];
    }
  }
  return powers.inverse();
}

// Row n: the weights, of the values at all nodes, of t^n.
const Square& node_weights() {
  static const Square kInverse = make_inverse();
  return kInverse;
}

// What the method needs of its nodes.
struct Method {
  Stages integrals;                                // A
  Eigen::Matrix<double, kStages, 1> start_slopes;  // p'(0) from Z
  std::array<std::complex<double>, kStages / 2> eigenvalues;
  Eigen::Matrix<std::complex<double>, kStages / 2, kStages> to_eigen;    // rows of T^-1
  Eigen::Matrix<std::complex<double>, kStages, kStages / 2> from_eigen;  // columns of 2 T

  Method() {
    Stages powers;    // t^n at the nodes, n from 0
    Stages integral;  // t^(n+1) / (n+1)
    for (Eigen::Index i = 0; i < powers.rows(); ++i) {
      double power = 1;
      const double share = kShares[static_cast<std::size_t>(i) + 1];
      for (Eigen::Index n = 0; n < powers.cols(); ++n) {
        powers(i, n) = power;
        power *= share;
        integral(i, n) = power / static_cast<double>(n + 1);
      }
    }
    integrals = integral * powers.inverse();
    start_slopes = node_weights().row(1).tail<kStages>();
    const Eigen::EigenSolver<Stages> solver(integrals);
    const Eigen::Matrix<std::complex<double>, kStages, kStages> vectors = solver.eigenvectors();
    const Eigen::Matrix<std::complex<double>, kStages, kStages> inverse = vectors.inverse();
    Eigen::Index next = 0;
    for (Eigen::Index i = 0; i < vectors.cols(); ++i) {
      if (solver.eigenvalues()(i).imag() <= 0) continue;
      eigenvalues[static_cast<std::size_t>(next)] = solver.eigenvalues()(i);
      to_eigen.row(next) = inverse.row(i);
      from_eigen.col(next) = 2.0 * vectors.col(i);
      ++next;
    }
  }
};

const Method& method() {
  static const Method kMethod;
  return kMethod;
}

}  // namespace

const std::array<double, kNodes>& step_nodes() {
  return kShares;
}

// Through the differences from the first: rounding is then against how much a quantity moves, and not against its size.
std::vector<double> through_nodes(const std::array<double, kNodes>& values) {
  Eigen::Matrix<double, kNodes, 1> column(values.data());
  column.array() -= values.front();
  std::vector<double> weights(kNodes);
  Eigen::Map<Eigen::Matrix<double, kNodes, 1>>(weights.data()) = node_weights() * column;
  weights.front() = values.front();
  return weights;
}

struct StiffStep::Work {
  Eigen::Index count;
  double relative;
  double absolute;
  double loosened = 1;
  double next = 0;  // s; 0: not known yet
  Eigen::VectorXd start;
  Eigen::VectorXd start_rates;
  Eigen::VectorXd scale;  // allowed error of each state
  Eigen::VectorXd at;
  Eigen::VectorXd bend;  // J f
  StateSlopes jacobian;
  std::array<ShiftedSlopes, kStages / 2> solvers;
  StageValues moved;  // Z, a column a node
  StageValues stage_rates;
  StageValues rest;
  Eigen::Matrix<std::complex<double>, Eigen::Dynamic, kStages / 2> turned;

  Work(std::size_t states, double rtol, double atol)
      : count(static_cast<Eigen::Index>(states)),
        relative(rtol),
        absolute(atol),
        start(count),
        start_rates(count),
        scale(count),
        at(count),
        bend(count),
        moved(count, kStages),
        stage_rates(count, kStages),
        rest(count, kStages),
        turned(count, kStages / 2) {}

  // Against what is allowed.
  [[nodiscard]] double size(const Eigen::Ref<const Eigen::VectorXd>& difference) const {
    return (difference.array().abs() / scale.array()).maxCoeff();
  }

  void begin(const std::vector<double>& state, const Rates& rates, const RateSlopes& slopes) {
    std::copy(state.begin(), state.end(), start.data());
    scale = loosened * (absolute + relative * start.array().abs());
    rates(start.data(), start_rates.data());
    slopes(start.data(), jacobian);
  }

  // How long the first step after an event may be.
  [[nodiscard]] double first_length() {
    jacobian.multiply(start_rates.data(), bend.data());
    double longest = std::numeric_limits<double>::infinity();
    for (Eigen::Index i = 0; i < count; ++i) {
      if (bend(i) == 0) continue;
      const double time = std::abs(start_rates(i) / bend(i));
      const double moves = std::abs(start_rates(i)) * time / scale(i);
      longest = std::min(longest, kFirstReach * time * std::pow(std::max(moves, 1e-6), -1 / kErrorOrder));
    }
    return longest;
  }

  // False where Newton's method does not come to an end.
  bool collocate(double length, const Rates& rates) {
    const Method& nodes = method();
    for (std::size_t i = 0; i < solvers.size(); ++i) solvers[i].prepare(jacobian, length * nodes.eigenvalues[i]);
    moved.setZero();
    double before = std::numeric_limits<double>::infinity();
    for (int iteration = 0; iteration < kMaxIterations; ++iteration) {
      for (Eigen::Index i = 0; i < moved.cols(); ++i) {
        at = start + moved.col(i);
        if (iteration == 0) {
          stage_rates.col(i) = start_rates;
        } else {
          rates(at.data(), stage_rates.col(i).data());
        }
      }
      rest.noalias() = (length * stage_rates) * nodes.integrals.transpose() - moved;
      turned.noalias() = rest * nodes.to_eigen.transpose();
      for (std::size_t i = 0; i < solvers.size(); ++i)
        solvers[i].solve(turned.col(static_cast<Eigen::Index>(i)).data());
      rest.noalias() = turned.real() * nodes.from_eigen.real().transpose();
      rest.noalias() -= turned.imag() * nodes.from_eigen.imag().transpose();
      if (!rest.allFinite()) return false;
      moved += rest;
      double change = 0;
      for (Eigen::Index i = 0; i < rest.cols(); ++i) change = std::max(change, size(rest.col(i)));
      if (change <= kConverged) return true;
      // Each correction is about the same share of the one before, so all that would follow are known.
      const double share = change / before;
      if (iteration > 0 && share < 1 && change * share / (1 - share) <= kConverged) return true;
      // What does not shrink any more is rounding if it is far below what is allowed.
      if (iteration > 0 && share >= 1) return change <= 10 * kConverged;
      before = change;
    }
    return false;
  }

  // Of the course, against what is allowed.
  [[nodiscard]] double error(double length) {
    at = kDefectShare * (moved * method().start_slopes - length * start_rates);
    turned.col(0) = at.cast<std::complex<double>>();
    solvers[0].solve(turned.col(0).data());
    at = turned.col(0).cwiseAbs();
    return size(at);
  }
};

StiffStep::StiffStep(std::size_t count, double relative, double absolute)
    : work_(std::make_unique<Work>(count, relative, absolute)) {
  for (auto& values : at_nodes_) values.assign(count, 0.0);
}
// What a step works with is made anew by each; only the length of the next one stays.
StiffStep::StiffStep(const StiffStep& other)
    : work_(std::make_unique<Work>(other.at_nodes_.front().size(), other.work_->relative, other.work_->absolute)),
      damped_(other.damped_),
      at_nodes_(other.at_nodes_) {
  work_->loosened = other.work_->loosened;
  work_->next = other.work_->next;
}
StiffStep::~StiffStep() = default;

void StiffStep::restart() {
  work_->next = 0;
}

void StiffStep::bound_next(double length) {
  if (work_->next > length) work_->next = length;
}

void StiffStep::loosen(double times) {
  work_->loosened = times;
}

double StiffStep::take(const std::vector<double>& state, const Rates& rates, const RateSlopes& slopes, double longest,
                       double shortest) {
  Work& work = *work_;
  damped_ = false;
  if (work.count == 0) return longest;
  work.begin(state, rates, slopes);
  if (work.next == 0) work.next = work.first_length();
  double length = std::min(std::max(work.next, shortest), longest);
  while (true) {
    const bool solved = work.collocate(length, rates);
    const double error = solved ? work.error(length) : std::numeric_limits<double>::infinity();
    const double factor = std::clamp(kCautious * std::pow(error, -1 / kErrorOrder), kLeastShare, kMostGrowth);
    if (error <= 1) {
      // A step cut short by the caller says little about the next one.
      work.next = length < work.next ? std::max(work.next, factor * length) : factor * length;
      fill_nodes();
      return length;
    }
    if (length <= shortest) return take_damped(state, rates, length);
    length = std::max(length * std::min(factor, kCautious), std::min(shortest, longest));
    work.next = length;
  }
}

double StiffStep::take_damped(const std::vector<double>& state, const Rates& rates, double length) {
  damped_ = true;
  work_->next = length;
  std::vector<double> end = state;
  const double whole = length;
  bool solved = damped_step(state, rates, length, end);
  for (int i = 0; i < kQuarters && !solved; ++i) {
    length /= 4;
    solved = damped_step(state, rates, length, end);
  }
  // The state stays as it is for the whole step: a quartered one would only be followed by the next.
  if (!solved) length = whole;
  for (std::size_t node = 0; node < kNodes; ++node) {
    const double share = kShares[node];
    for (std::size_t i = 0; i < state.size(); ++i) at_nodes_[node][i] = state[i] + share * (end[i] - state[i]);
  }
  return length;
}

void StiffStep::fill_nodes() {
  const Work& work = *work_;
  for (Eigen::Index i = 0; i < work.count; ++i) {
    const auto place = static_cast<std::size_t>(i);
    at_nodes_[0][place] = work.start(i);
    for (std::size_t node = 1; node < kNodes; ++node) {
      at_nodes_[node][place] = work.start(i) + work.moved(i, static_cast<Eigen::Index>(node) - 1);
    }
  }
}

}  // namespace rampart::circuit
