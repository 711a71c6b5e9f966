#include "runtime/play/condition_watch.h"

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

bool truth_of(const Condition& condition, const std::vector<Watched>& comparisons) {
  std::vector<bool> stack;
  std::size_t next = 0;
  for (const ConditionNode& node : condition.nodes) {
    if (node.op == Truth::Compare) {
      stack.push_back(comparisons[next++].holds);
      continue;
    }
    const bool right = stack.back();
    stack.pop_back();
    if (node.op == Truth::Not) {
      stack.push_back(!right);
      continue;
    }
    const bool left = stack.back();
    stack.back() = node.op == Truth::And ? left && right : left || right;
  }
  return !stack.empty() && stack.back();
}

}  // namespace

std::optional<double> ConditionWatch::first_true(const std::vector<RailSignals>& rails) const {
  std::vector<Watched> comparisons;
  for (const ConditionNode& node : condition_->nodes) {
    if (node.op != Truth::Compare) continue;
    Watched watched{FormCurve(node.comparison.form, 1, rails), FormCurve(node.comparison.form, -1, rails)};
    watched.tolerance = watched.rising.tolerance();
    const double start = watched.rising.value(0);
    watched.holds = node.comparison.strict ? start > watched.tolerance : start >= -watched.tolerance;
    comparisons.push_back(std::move(watched));
  }
  double time = 0;
  for (int change = 0; change < kMaxChanges; ++change) {
    if (truth_of(*condition_, comparisons)) return time;
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
