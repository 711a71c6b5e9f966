#include "runtime/circuit/damped_step.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace rampart::circuit {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double kProbe = 1e-8;
constexpr double kLeastSize = 1e-3;  // V, A or one unit of a scaled state
constexpr double kConverged = 1e-9;
// Down an exponential each one goes by its scale only.
constexpr int kMaxIterations = 500;
constexpr int kMaxHalvings = 20;

// How much a state is moved to see how the rates change with it. Small, because what a diode leaves to a coil bends
// within nanoamperes.
double probe_reach(double state) {
  return kProbe * std::max(std::abs(state), kLeastSize);
}

// Newton's method for x - start - length f(x) = 0, each step halved until it comes nearer.
class Search {
 public:
  Search(const std::vector<double>& start, const Rates& rates, double length)
      : start_(Eigen::Map<const VectorXd>(start.data(), static_cast<Eigen::Index>(start.size()))),
        rates_(rates),
        length_(length),
        slope_(start_.size()) {}

  bool run(VectorXd& place) {
    place = start_;
    VectorXd rest = rest_at(place);
    for (int i = 0; i < kMaxIterations; ++i) {
      const VectorXd change = matrix_at(place).partialPivLu().solve(-rest);
      if (!change.allFinite()) return false;
      if (size(change, place) < kConverged) {
        place += change;
        return true;
      }
      if (!come_nearer(change, place, rest)) return false;
    }
    return false;
  }

 private:
  [[nodiscard]] VectorXd rest_at(const VectorXd& place) {
    rates_(place.data(), slope_.data());
    return place - start_ - length_ * slope_;
  }

  [[nodiscard]] MatrixXd matrix_at(const VectorXd& place) {
    MatrixXd matrix = MatrixXd::Identity(place.size(), place.size());
    VectorXd probe = place;
    VectorXd above(place.size());
    VectorXd below(place.size());
    for (Eigen::Index j = 0; j < place.size(); ++j) {
      const double reach = probe_reach(place[j]);
      probe[j] = place[j] + reach;
      rates_(probe.data(), above.data());
      probe[j] = place[j] - reach;
      rates_(probe.data(), below.data());
      probe[j] = place[j];
      matrix.col(j) -= length_ * (above - below) / (2 * reach);
    }
    return matrix;
  }

  // Against the states themselves.
  [[nodiscard]] static double size(const VectorXd& difference, const VectorXd& place) {
    return (difference.array().abs() / (place.array().abs() + kLeastSize)).maxCoeff();
  }

  bool come_nearer(const VectorXd& change, VectorXd& place, VectorXd& rest) {
    const double before = size(rest, start_);
    double share = 1;
    for (int i = 0; i < kMaxHalvings; ++i, share /= 2) {
      const VectorXd next = place + share * change;
      const VectorXd left = rest_at(next);
      if (!left.allFinite() || !(size(left, start_) < before)) continue;
      place = next;
      rest = left;
      return true;
    }
    return before < kConverged;
  }

  VectorXd start_;
  const Rates& rates_;
  double length_;
  VectorXd slope_;
};

}  // namespace

bool damped_step(const std::vector<double>& start, const Rates& rates, double length, std::vector<double>& end) {
  VectorXd place;
  if (!Search(start, rates, length).run(place)) return false;
  end.assign(place.begin(), place.end());
  return true;
}

}  // namespace rampart::circuit
