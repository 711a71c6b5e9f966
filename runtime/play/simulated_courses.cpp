#include "runtime/play/simulated_courses.h"

#include <algorithm>
#include <cmath>

#include "compiler/profile/fold_condition.h"
#include "runtime/circuit/roots.h"

namespace rampart {

using circuit::Bounds;
using circuit::Curve;
using rules::Least;
using rules::Reading;

namespace {

// Changes that are looked at in one piece.
constexpr int kMaxCrossings = 10'000;
// Turns lower than this share of what a voltage is made of may be the error of a step.
constexpr double kStepError = 1e-8;
// Least distances that differ by less are the same, relatively and in SI units.
constexpr double kSameRelative = 1e-12;
constexpr double kSameDistance = 1e-15;

// A curve and a straight line together, taken `sign` times.
class OnLine final : public Curve {
 public:
  OnLine(const Curve& curve, double sign, double from, double to)
      : curve_(&curve), sign_(sign), from_(sign * from), rise_(sign * (to - from)) {}
  [[nodiscard]] double value(double t) const override { return sign_ * curve_->value(t) + from_ + rise_ * t; }
  [[nodiscard]] double slope(double t) const override { return sign_ * curve_->slope(t) + rise_; }
  [[nodiscard]] Bounds bounds(double from, double to) const override {
    const double a = from_ + rise_ * from;
    const double b = from_ + rise_ * to;
    return circuit::plus(signed_of(curve_->bounds(from, to)), {std::min(a, b), std::max(a, b)});
  }
  [[nodiscard]] Bounds slope_bounds(double from, double to) const override {
    return circuit::plus(signed_of(curve_->slope_bounds(from, to)), {rise_, rise_});
  }
  [[nodiscard]] double rounding() const override { return curve_->rounding(); }

 private:
  [[nodiscard]] Bounds signed_of(const Bounds& bounds) const {
    return sign_ < 0 ? Bounds{-bounds.high, -bounds.low} : bounds;
  }

  const Curve* curve_;
  double sign_;
  double from_;
  double rise_;
};

// Adds the times at which a curve goes from above zero to below or back, of a piece of this length.
void add_crossings(const Curve& curve, double tolerance, bool above, double length, std::vector<double>& times) {
  const OnLine rising(curve, 1, 0, 0);
  const OnLine falling(curve, -1, 0, 0);
  double time = 0;
  for (int change = 0; change < kMaxCrossings; ++change, above = !above) {
    const std::optional<double> found = circuit::first_rise(above ? falling : rising, tolerance, time);
    if (!found) return;
    time = *found;
    times.push_back(time * length);
  }
}

// What a reading makes of the error of a distance: nothing, less or more.
double sign_of(Reading reading) {
  if (reading == Reading::AsWritten) return 0;
  return reading == Reading::Surely ? -1 : 1;
}

}  // namespace

// The distance of a whole condition, negative: its greatest value is the least distance.
class ConditionCurve final : public Curve {
 public:
  ConditionCurve(const Condition& condition, const std::vector<SimulatedCourses::Compared>& comparisons,
                 Reading reading)
      : condition_(condition) {
    for (const SimulatedCourses::Compared& compared : comparisons) {
      const double sign = sign_of(rules::reading_of(reading, compared.negated));
      curves_.emplace_back(compared.distance, 1, sign * compared.error[0], sign * compared.error[1]);
    }
  }
  [[nodiscard]] double value(double t) const override { return -at(t).value; }
  [[nodiscard]] double slope(double t) const override { return -at(t).slope; }
  [[nodiscard]] Bounds bounds(double from, double to) const override { return negative(within(from, to).value); }
  [[nodiscard]] Bounds slope_bounds(double from, double to) const override { return negative(within(from, to).slope); }
  [[nodiscard]] double rounding() const override {
    double most = 0;
    for (const OnLine& curve : curves_) most = std::max(most, curve.rounding());
    return most;
  }

 private:
  struct Point {
    double value = 0;
    double slope = 0;
  };
  struct Box {
    Bounds value;
    Bounds slope;
  };
  static Bounds negative(const Bounds& bounds) { return {-bounds.high, -bounds.low}; }

  [[nodiscard]] Point at(double t) const {
    return fold_condition(
        condition_,
        [&](const ConditionNode&, std::size_t i) {
          return Point{curves_[i].value(t), curves_[i].slope(t)};
        },
        [](const Point& point) {
          return Point{-point.value, -point.slope};
        },
        [](const ConditionNode& node, const Point& a, const Point& b) {
          return (a.value < b.value) == (node.op == Truth::And) ? a : b;
        });
  }
  [[nodiscard]] Box within(double from, double to) const {
    return fold_condition(
        condition_,
        [&](const ConditionNode&, std::size_t i) {
          return Box{curves_[i].bounds(from, to), curves_[i].slope_bounds(from, to)};
        },
        [](const Box& box) {
          return Box{negative(box.value), negative(box.slope)};
        },
        [](const ConditionNode& node, const Box& a, const Box& b) {
          const bool lower = node.op == Truth::And;
          // Where one is the lower, or the higher, all the way, only its slope counts.
          if (a.value.high < b.value.low) return lower ? a : b;
          if (b.value.high < a.value.low) return lower ? b : a;
          Box both;
          both.slope = {std::min(a.slope.low, b.slope.low), std::max(a.slope.high, b.slope.high)};
          both.value = lower ? Bounds{std::min(a.value.low, b.value.low), std::min(a.value.high, b.value.high)}
                             : Bounds{std::max(a.value.low, b.value.low), std::max(a.value.high, b.value.high)};
          return both;
        });
  }

  const Condition& condition_;
  std::vector<OnLine> curves_;
};

SimulatedCourses::SimulatedCourses(const rules::RulePlan& plan, const std::vector<RailSignals>& rails,
                                   const std::vector<OutputError>& errors, double length)
    : plan_(plan), rails_(rails), length_(length) {
  for (std::size_t i = 0; i < plan.conditions.size(); ++i) {
    std::vector<Compared>& all = comparisons_.emplace_back();
    for_each_comparison(plan.conditions[i], [&](const Comparison& comparison) {
      const LinearForm& form = comparison.form;
      Compared compared{FormCurve(form, 1, rails), {0, 0}, 0, comparison.strict, plan.negated[i][all.size()]};
      compared.tolerance = compared.distance.tolerance();
      for (const Term& term : form.terms) {
        const OutputError& error = errors[static_cast<std::size_t>(term.rail)];
        const double weight = std::abs(term.coefficient.to_double());
        const double* own = term.signal == Signal::Current ? error.current
                            : term.signal == Signal::Power ? error.power
                                                           : error.voltage;
        compared.error[0] += weight * own[0];
        compared.error[1] += weight * own[1];
      }
      all.push_back(std::move(compared));
    });
  }
}

void SimulatedCourses::add_changes(std::size_t condition, Reading reading, std::vector<double>& times) const {
  for (const Compared& compared : comparisons_[condition]) {
    const double sign = sign_of(rules::reading_of(reading, compared.negated));
    const OnLine distance(compared.distance, 1, sign * compared.error[0], sign * compared.error[1]);
    const double start = distance.value(0);
    const bool above = compared.strict ? start > compared.tolerance : start >= -compared.tolerance;
    add_crossings(distance, compared.tolerance, above, length_, times);
  }
}

bool SimulatedCourses::holds(std::size_t condition, Reading reading, double time) const {
  const double share = share_at(time);
  return is_true(plan_.conditions[condition], [&](const ConditionNode&, std::size_t i) {
    const Compared& compared = comparisons_[condition][i];
    const double error = compared.error[0] + (compared.error[1] - compared.error[0]) * share;
    const double distance =
        compared.distance.value(share) + sign_of(rules::reading_of(reading, compared.negated)) * error;
    return compared.strict ? distance > compared.tolerance : distance >= -compared.tolerance;
  });
}

std::optional<Least> SimulatedCourses::least_below(std::size_t condition, Reading reading, double from, double to,
                                                   double known) const {
  const ConditionCurve curve(plan_.conditions[condition], comparisons_[condition], reading);
  const double tolerance = std::isfinite(known) ? kSameRelative * std::abs(known) + kSameDistance : 0;
  const auto found = circuit::maximum_above(curve, -known, tolerance, share_at(from), share_at(to));
  if (!found) return std::nullopt;
  return Least{-found->value, found->time * length_};
}

std::optional<double> SimulatedCourses::greatest_above(std::size_t condition, double known) const {
  const ConditionCurve negative(plan_.conditions[condition], comparisons_[condition], Reading::AsWritten);
  const double tolerance = std::isfinite(known) ? kSameRelative * std::abs(known) + kSameDistance : 0;
  const auto found = circuit::maximum_above(OnLine(negative, -1, 0, 0), known, tolerance);
  return found ? std::optional(found->value) : std::nullopt;
}

double SimulatedCourses::height(double time) const {
  return comparisons_.front().front().distance.value(share_at(time));
}

double SimulatedCourses::height_noise() const {
  return kStepError / circuit::kRoundingShare * comparisons_.front().front().distance.rounding();
}

void SimulatedCourses::add_turns(std::vector<double>& times) const {
  const auto rail = static_cast<std::size_t>(plan_.rails.front());
  const circuit::SignalCurve slope(rails_[rail].piece->port_voltage.derivative());
  add_crossings(slope, slope.rounding(), slope.value(0) > 0, length_, times);
}

}  // namespace rampart
