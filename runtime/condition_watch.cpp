#include "runtime/condition_watch.h"

#include <algorithm>
#include <cmath>

#include "runtime/circuit/roots.h"

namespace rampart {
namespace {

using circuit::Bounds;
using circuit::Curve;
using circuit::Piece;
using circuit::ProductCurve;
using circuit::SignalCurve;

// Changes of comparisons that are looked at in one piece.
constexpr int kMaxChanges = 10'000;

// constant + sum of coefficient times curve
class FormCurve final : public Curve {
 public:
  FormCurve(const LinearForm& form, double sign, const std::vector<RailSignals>& rails)
      : constant_(sign * form.constant.to_double()) {
    for (const Term& term : form.terms) {
      const RailSignals& rail = rails[static_cast<std::size_t>(term.rail)];
      terms_.push_back({sign * term.coefficient.to_double(), curve_of(term.signal, rail)});
    }
  }
  double value(double t) const override {
    double sum = constant_;
    for (const Part& part : terms_) sum += part.factor * part.curve->value(t);
    return sum;
  }
  double slope(double t) const override {
    double sum = 0;
    for (const Part& part : terms_) sum += part.factor * part.curve->slope(t);
    return sum;
  }
  Bounds bounds(double from, double to) const override {
    Bounds sum{constant_, constant_};
    for (const Part& part : terms_) sum = circuit::plus(sum, scaled(part.curve->bounds(from, to), part.factor));
    return sum;
  }
  Bounds slope_bounds(double from, double to) const override {
    Bounds sum;
    for (const Part& part : terms_) sum = circuit::plus(sum, scaled(part.curve->slope_bounds(from, to), part.factor));
    return sum;
  }
  double rounding() const override {
    double sum = circuit::kRoundingShare * std::abs(constant_);
    for (const Part& part : terms_) sum += std::abs(part.factor) * part.curve->rounding();
    return sum;
  }

 private:
  struct Part {
    double factor;
    std::unique_ptr<Curve> curve;
  };
  static Bounds scaled(const Bounds& bounds, double factor) { return circuit::times(bounds, {factor, factor}); }
  static std::unique_ptr<Curve> curve_of(Signal signal, const RailSignals& rail) {
    const Piece& piece = *rail.piece;
    switch (signal) {
      case Signal::Voltage:
        return std::make_unique<SignalCurve>(piece.port_voltage.times(rail.sign));
      case Signal::Current:
        return std::make_unique<SignalCurve>(piece.terminal_current);
      case Signal::Power:
        return std::make_unique<ProductCurve>(piece.terminal_voltage, piece.terminal_current, 1, 0);
      case Signal::Slew:
        break;
    }
    const double a_second = piece.length > 0 ? 1 / piece.length : 0;
    return std::make_unique<SignalCurve>(piece.port_voltage.derivative().times(rail.sign * a_second));
  }

  double constant_;
  std::vector<Part> terms_;
};

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
    watched.tolerance = watched.rising.rounding() + 1e-12 * std::abs(node.comparison.form.constant.to_double());
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
      const Curve& curve = watched.holds ? watched.falling : watched.rising;
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
