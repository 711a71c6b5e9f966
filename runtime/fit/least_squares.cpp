#include "runtime/fit/least_squares.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <utility>

namespace rampart::fit {
namespace {

constexpr int kMostRounds = 40;
constexpr double kLeastGain = 1e-6;  // of the sum, below which nothing more is to be had
constexpr double kFirstDamping = 1e-3;
// The same with parameters by which the residuals jump: they creep.
constexpr double kLeastRoughGain = 1e-2;
constexpr double kMostDamping = 1e9;

Eigen::MatrixXd dense(const Matrix& matrix) {
  Eigen::MatrixXd result(matrix.rows(), matrix.columns());
  for (std::size_t i = 0; i < matrix.rows(); ++i) {
    for (std::size_t k = 0; k < matrix.columns(); ++k) {
      result(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(k)) = matrix(i, k);
    }
  }
  return result;
}

// The problem at one point, without its linear parameters.
class Reduced {
 public:
  Reduced(const Linearised& linearised, const std::vector<Bounded>& parameters) : parameters_(parameters) {
    const Eigen::MatrixXd all = dense(linearised.slopes);
    for (std::size_t k = 0; k < parameters.size(); ++k) (parameters[k].is_linear ? linear_ : free_).push_back(k);
    const auto pick = [&all](const std::vector<std::size_t>& columns) {
      Eigen::MatrixXd part(all.rows(), static_cast<Eigen::Index>(columns.size()));
      for (std::size_t i = 0; i < columns.size(); ++i) {
        part.col(static_cast<Eigen::Index>(i)) = all.col(static_cast<Eigen::Index>(columns[i]));
      }
      return part;
    };
    slopes_ = pick(free_);
    lines_ = pick(linear_);
    Eigen::MatrixXd known = lines_.transpose() * lines_;
    for (std::size_t i = 0; i < linear_.size(); ++i) {
      const auto at = static_cast<Eigen::Index>(i);
      known(at, at) += std::max(parameters[linear_[i]].weight, 1e-12);
    }
    solver_ = known.ldlt();
  }

  [[nodiscard]] const std::vector<std::size_t>& free() const { return free_; }

  [[nodiscard]] double sum_of(const std::vector<double>& residuals, const std::vector<double>& at) const {
    const Eigen::Map<const Eigen::VectorXd> r(residuals.data(), static_cast<Eigen::Index>(residuals.size()));
    double sum = r.squaredNorm();
    if (!linear_.empty()) {
      const Eigen::VectorXd along = lines_.transpose() * r;
      sum -= along.dot(solver_.solve(along));
    }
    for (const std::size_t k : free_) sum += parameters_[k].weight * at[k] * at[k];
    return sum;
  }

  // Half of the slope of the sum downwards, and half of its curvature, of the free parameters.
  [[nodiscard]] Eigen::VectorXd descent(const std::vector<double>& residuals, const std::vector<double>& at) const {
    Eigen::VectorXd down = -slopes_.transpose() * without_lines(residuals);
    for (std::size_t i = 0; i < free_.size(); ++i) {
      down(static_cast<Eigen::Index>(i)) -= parameters_[free_[i]].weight * at[free_[i]];
    }
    return down;
  }
  [[nodiscard]] Eigen::MatrixXd curvature() const {
    Eigen::MatrixXd result = slopes_.transpose() * slopes_;
    if (!linear_.empty()) {
      const Eigen::MatrixXd both = lines_.transpose() * slopes_;
      result -= both.transpose() * solver_.solve(both);
    }
    for (std::size_t i = 0; i < free_.size(); ++i) {
      const auto k = static_cast<Eigen::Index>(i);
      result(k, k) += parameters_[free_[i]].weight;
    }
    return result;
  }
  // Puts the linear parameters where they are best.
  void settle(const std::vector<double>& residuals, std::vector<double>& at) const {
    if (linear_.empty()) return;
    const Eigen::Map<const Eigen::VectorXd> r(residuals.data(), static_cast<Eigen::Index>(residuals.size()));
    const Eigen::VectorXd best = solver_.solve(-(lines_.transpose() * r));
    for (std::size_t i = 0; i < linear_.size(); ++i) {
      const Bounded& one = parameters_[linear_[i]];
      at[linear_[i]] = std::clamp(best(static_cast<Eigen::Index>(i)), one.low, one.high);
    }
  }

 private:
  [[nodiscard]] Eigen::VectorXd without_lines(const std::vector<double>& residuals) const {
    const Eigen::Map<const Eigen::VectorXd> r(residuals.data(), static_cast<Eigen::Index>(residuals.size()));
    if (linear_.empty()) return r;
    return r - lines_ * solver_.solve(lines_.transpose() * r);
  }

  const std::vector<Bounded>& parameters_;
  std::vector<std::size_t> free_;
  std::vector<std::size_t> linear_;
  Eigen::MatrixXd slopes_;
  Eigen::MatrixXd lines_;
  Eigen::LDLT<Eigen::MatrixXd> solver_;
};

// At a bound that it would go beyond.
std::vector<bool> held_at(const std::vector<double>& at, const Reduced& reduced, const Eigen::VectorXd& down,
                          const std::vector<Bounded>& parameters) {
  std::vector<bool> held(at.size(), false);
  for (std::size_t i = 0; i < reduced.free().size(); ++i) {
    const std::size_t k = reduced.free()[i];
    const double slope = down(static_cast<Eigen::Index>(i));
    held[k] = (at[k] <= parameters[k].low && slope < 0) || (at[k] >= parameters[k].high && slope > 0);
  }
  return held;
}

Eigen::VectorXd step_of(Eigen::MatrixXd matrix, Eigen::VectorXd down, const Reduced& reduced,
                        const std::vector<bool>& held, double damping) {
  for (Eigen::Index i = 0; i < down.size(); ++i) {
    if (held[reduced.free()[static_cast<std::size_t>(i)]]) {
      matrix.row(i).setZero();
      matrix.col(i).setZero();
      down(i) = 0;
    }
    matrix(i, i) = matrix(i, i) <= 0 ? 1 : matrix(i, i) * (1 + damping);
  }
  return matrix.ldlt().solve(down);
}

// A point, and which way is down from there.
struct Slope {
  const std::vector<Bounded>& parameters;
  const Residuals& residuals;
  const Reduced& reduced;
  const Eigen::VectorXd& down;
  double sum;    // of squares
  double least;  // gain that is worth a step
};

// Takes the least damped step that leads down, if there is one, and gives by how much.
double descend(const Slope& slope, const std::vector<bool>& held, double& damping, std::vector<double>& at) {
  const Eigen::MatrixXd curvature = slope.reduced.curvature();
  for (; damping < kMostDamping; damping *= 10) {
    const Eigen::VectorXd step = step_of(curvature, slope.down, slope.reduced, held, damping);
    // What it would gain if residuals were straight; more damping gains less.
    if (step.dot(2 * slope.down - curvature * step) < slope.least) return 0;
    std::vector<double> next = at;
    for (std::size_t i = 0; i < slope.reduced.free().size(); ++i) {
      const std::size_t k = slope.reduced.free()[i];
      const Bounded& one = slope.parameters[k];
      next[k] = std::clamp(next[k] + step(static_cast<Eigen::Index>(i)), one.low, one.high);
    }
    const double next_sum = slope.reduced.sum_of(slope.residuals(next), next);
    if (next_sum >= slope.sum) continue;
    at = std::move(next);
    damping = std::max(damping / 10, 1e-9);
    return slope.sum - next_sum;
  }
  return 0;
}

}  // namespace

Matrix information(const Matrix& slopes, const std::vector<Bounded>& parameters, const std::vector<bool>& is_held) {
  const std::size_t count = parameters.size();
  Matrix result(count, count);
  for (std::size_t row = 0; row < slopes.rows(); ++row) {
    for (std::size_t i = 0; i < count; ++i) {
      const double slope = slopes(row, i);
      if (slope == 0 || is_held[i]) continue;
      for (std::size_t k = 0; k < count; ++k) {
        if (!is_held[k]) result(i, k) += slope * slopes(row, k);
      }
    }
  }
  for (std::size_t i = 0; i < count; ++i) {
    if (!is_held[i]) result(i, i) += parameters[i].weight;
  }
  return result;
}

Solution solve(const std::vector<Bounded>& parameters, const std::vector<double>& from, const Residuals& residuals,
               const Linearise& linearise) {
  Solution solution;
  solution.at = from;
  // Those that are solved for along with the others count from nothing.
  for (std::size_t k = 0; k < parameters.size(); ++k) {
    if (parameters[k].is_linear) solution.at[k] = 0;
  }
  solution.is_held.resize(parameters.size(), false);
  const auto is_rough = [](const Bounded& one) { return one.is_rough; };
  const bool has_rough = std::any_of(parameters.begin(), parameters.end(), is_rough);
  Linearised here = linearise(solution.at);
  for (const bool with_rough : {false, true}) {
    if (with_rough && !has_rough) continue;
    const double least_gain = with_rough ? kLeastRoughGain : kLeastGain;
    double damping = kFirstDamping;
    for (int round = 0; round < kMostRounds; ++round, ++solution.rounds) {
      const Reduced reduced(here, parameters);
      if (reduced.free().empty()) break;
      const double sum = reduced.sum_of(here.residuals, solution.at);
      const Eigen::VectorXd down = reduced.descent(here.residuals, solution.at);
      std::vector<bool> held = held_at(solution.at, reduced, down, parameters);
      for (std::size_t k = 0; k < held.size(); ++k) held[k] = held[k] || (!with_rough && parameters[k].is_rough);
      const double gained =
          descend({parameters, residuals, reduced, down, sum, least_gain * sum}, held, damping, solution.at);
      if (gained <= 0) break;
      here = linearise(solution.at);
      if (gained < least_gain * sum) break;
    }
  }
  const Reduced reduced(here, parameters);
  solution.is_held = held_at(solution.at, reduced, reduced.descent(here.residuals, solution.at), parameters);
  const std::vector<double> unsettled = solution.at;
  reduced.settle(here.residuals, solution.at);
  solution.linearised = solution.at == unsettled ? std::move(here) : linearise(solution.at);
  return solution;
}

Matrix inverse_of(const Matrix& matrix) {
  const std::size_t count = matrix.rows();
  Eigen::MatrixXd whole = dense(matrix);
  std::vector<bool> is_nothing(count);
  for (std::size_t i = 0; i < count; ++i) {
    const auto at = static_cast<Eigen::Index>(i);
    is_nothing[i] = whole(at, at) <= 0;
    if (is_nothing[i]) whole(at, at) = 1;
  }
  const auto size = static_cast<Eigen::Index>(count);
  const Eigen::MatrixXd inverse = whole.ldlt().solve(Eigen::MatrixXd::Identity(size, size));
  Matrix result(count, count);
  for (std::size_t i = 0; i < count; ++i) {
    for (std::size_t k = 0; k < count; ++k) {
      if (is_nothing[i] || is_nothing[k]) continue;
      result(i, k) = inverse(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(k));
    }
  }
  return result;
}

Matrix product(const Matrix& a, const Matrix& b) {
  Matrix result(a.rows(), b.columns());
  for (std::size_t i = 0; i < a.rows(); ++i) {
    for (std::size_t j = 0; j < a.columns(); ++j) {
      if (a(i, j) == 0) continue;
      for (std::size_t k = 0; k < b.columns(); ++k) result(i, k) += a(i, j) * b(j, k);
    }
  }
  return result;
}

}  // namespace rampart::fit
