#include "runtime/play/condition_watch.h"

#include <cmath>
#include <limits>

#include "compiler/profile/fold_condition.h"
#include "runtime/circuit/roots.h"

namespace rampart {
namespace {

// Changes of comparisons that are looked at in one piece.
constexpr int kMaxChanges = 10'000;

// A comparison with the curve that rises above zero as it becomes true, and the one that does as it becomes false.
struct Watched {
  FormCurve rising;
  FormCurve falling;
  double tolerance = 0;
  bool holds = false;
};

// Approaches that differ by less are the same, relatively and in SI units.
constexpr double kSame = 1e-12;
constexpr double kSameAbsolute = 1e-15;

}  // namespace

ConditionWatch::ConditionWatch(const Condition& condition) : condition_(&condition) {
  constexpr double kNever = -std::numeric_limits<double>::infinity();
  for_each_comparison(condition, [this](const Comparison&) { nearest_.push_back({kNever, 0}); });
}

void ConditionWatch::follow(const std::vector<RailSignals>& rails, double start_s, double length_s) {
  std::size_t next = 0;
  for_each_comparison(*condition_, [&](const Comparison& comparison) {
    Approach& known = nearest_[next++];
    const double tolerance = std::isfinite(known.distance) ? kSame * std::abs(known.distance) + kSameAbsolute : 0;
    const auto found = circuit::maximum_above(FormCurve(comparison.form, 1, rails), known.distance, tolerance);
    if (found) known = {found->value, start_s + found->time * length_s};
  });
}

std::optional<double> ConditionWatch::first_true(const std::vector<RailSignals>& rails) const {
  std::vector<Watched> comparisons;
  for_each_comparison(*condition_, [&](const Comparison& comparison) {
    Watched watched{FormCurve(comparison.form, 1, rails), FormCurve(comparison.form, -1, rails)};
    watched.tolerance = watched.rising.tolerance();
    const double start = watched.rising.value(0);
    watched.holds = comparison.strict ? start > watched.tolerance : start >= -watched.tolerance;
    comparisons.push_back(std::move(watched));
  });
  double time = 0;
  for (int change = 0; change < kMaxChanges; ++change) {
    const auto holds = [&](const ConditionNode&, std::size_t i) { return comparisons[i].holds; };
    if (is_true(*condition_, holds)) return time;
    Watched* first = nullptr;
    double next = 2;
    for (Watched& watched : comparisons) {
      const circuit::Curve& curve = watched.holds ? watched.falling : watched.rising;
      const std::optional<double> found = circuit::first_rise(curve, watched.tolerance, time);
      if (!found || *found >= next) continue;
      next = *found;
      first = &watched;
    }
    if (first == nullptr) return std::nullopt;
    first->holds = !first->holds;
    time = next;
  }
  return std::nullopt;
}

}  // namespace rampart
