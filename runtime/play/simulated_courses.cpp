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
// Beyond this share of what a distance is made of, and of its constant, neither rounding nor a tolerance plays a part.
constexpr double kClear = 1e-13;
constexpr double kClearConstant = 1e-11;

// A curve and a straight line together, taken `sign` times.
class OnLine final : public Curve {
 public:
  OnLine(const Curve& curve, double sign, double from, double to)
      : curve_(&curve), sign_(sign), from_(sign * from), rise_(sign * (to - from)) {}
  [[nodiscard]] double value(double t) const override { return sign_ * curve_->value(t) + from_ + rise_ * t; }
  [[nodiscard]] double slope(double t) const override { return sign_ * curve_->slope(t) + rise_; }
  [[nodiscard]] circuit::ValueAndSlope at(double t) const override {
    const auto [value, slope] = curve_->at(t);
    return {sign_ * value + from_ + rise_ * t, sign_ * slope + rise_};
  }
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

Bounds negative(const Bounds& bounds) {
  return {-bounds.high, -bounds.low};
}

// What the distance of an `and` or `or` keeps within.
Bounds joined(const ConditionNode& node, const Bounds& a, const Bounds& b) {
  if (node.op == Truth::And) return {std::min(a.low, b.low), std::min(a.high, b.high)};
  return {std::max(a.low, b.low), std::max(a.high, b.high)};
}

// Least or greatest distances that are nearer to what is known are the same.
double same_as(double known) {
  return std::isfinite(known) ? kSameRelative * std::abs(known) + kSameDistance : 0;
}

constexpr std::size_t place_of(Reading reading) {
  return static_cast<std::size_t>(reading);
}

Bounds multiplied(const Bounds& bounds, double factor) {
  const double a = factor * bounds.low;
  const double b = factor * bounds.high;
  return {std::min(a, b), std::max(a, b)};
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
  ConditionCurve(const SimulatedCourses& courses, std::size_t condition, Reading reading)
      : condition_(courses.plan_.conditions[condition]) {
    for (SimulatedCourses::Compared& compared : courses.comparisons_[condition]) {
      const double sign = sign_of(rules::reading_of(reading, compared.negated));
      curves_.emplace_back(*courses.drawn(compared).distance, 1, sign * compared.error[0], sign * compared.error[1]);
    }
  }
  [[nodiscard]] double value(double t) const override { return -distance(t).value; }
  [[nodiscard]] double slope(double t) const override { return -distance(t).slope; }
  [[nodiscard]] Bounds bounds(double from, double to) const override { return negative(within(from, to).value); }
  [[nodiscard]] Bounds slope_bounds(double from, double to) const override { return negative(within(from, to).slope); }
  [[nodiscard]] double rounding() const override {
    double most = 0;
    for (const OnLine& curve : curves_) most = std::max(most, curve.rounding());
    return most;
  }

 private:
  using Point = circuit::ValueAndSlope;
  struct Box {
    Bounds value;
    Bounds slope;
  };

  [[nodiscard]] Point distance(double t) const {
    return fold_condition(
        condition_, [&](const ConditionNode&, std::size_t i) { return curves_[i].at(t); },
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
          return Box{joined(node, a.value, b.value),
                     {std::min(a.slope.low, b.slope.low), std::max(a.slope.high, b.slope.high)}};
        });
  }

  const Condition& condition_;
  std::vector<OnLine> curves_;
};

SimulatedCourses::Compared::Compared(const Comparison& comparison, bool is_negated)
    : form(&comparison.form),
      constant(comparison.form.constant.to_double()),
      strict(comparison.strict),
      negated(is_negated) {
  for (const Term& term : form->terms) coefficients.push_back(term.coefficient.to_double());
}

SimulatedCourses::SimulatedCourses(const rules::RulePlan& plan) : plan_(plan) {
  for (std::size_t i = 0; i < plan.conditions.size(); ++i) {
    std::vector<Compared>& all = comparisons_.emplace_back();
    for_each_comparison(plan.conditions[i], [&](const Comparison& comparison) {
      all.emplace_back(comparison, plan.negated[i][all.size()]);
    });
  }
}

void SimulatedCourses::begin(std::vector<RailStretch>& rails, double length) {
  rails_ = &rails;
  length_ = length;
  for (std::vector<Compared>& all : comparisons_) {
    for (Compared& compared : all) bound(compared);
  }
}

void SimulatedCourses::bound(Compared& compared) {
  compared.distance.reset();
  compared.error[0] = compared.error[1] = 0;
  Bounds written{compared.constant, compared.constant};
  double clear = kClearConstant * std::abs(compared.constant);
  for (std::size_t i = 0; i < compared.coefficients.size(); ++i) {
    const Term& term = compared.form->terms[i];
    RailStretch& rail = (*rails_)[static_cast<std::size_t>(term.rail)];
    const double coefficient = compared.coefficients[i];
    const double weight = std::abs(coefficient);
    const Reach& reach = rail.reach(term.signal);
    written = circuit::plus(written, multiplied(reach.bounds, coefficient));
    clear += kClear * weight * reach.magnitude;
    const OutputError& error = rail.error();
    const double* off = term.signal == Signal::Current ? error.current
                        : term.signal == Signal::Power ? error.power
                                                       : error.voltage;
    compared.error[0] += weight * off[0];
    compared.error[1] += weight * off[1];
  }
  clear += kClear * std::max(compared.error[0], compared.error[1]);
  const auto [least, most] = std::minmax(compared.error[0], compared.error[1]);
  compared.bounds[place_of(Reading::AsWritten)] = written;
  compared.bounds[place_of(Reading::Surely)] = {written.low - most, written.high - least};
  compared.bounds[place_of(Reading::Possibly)] = {written.low + least, written.high + most};
  for (std::size_t i = 0; i < std::size(compared.bounds); ++i) {
    const Bounds& bounds = compared.bounds[i];
    compared.settled[i] = bounds.low > clear     ? std::optional(true)
                          : bounds.high < -clear ? std::optional(false)
                                                 : std::nullopt;
  }
}

const SimulatedCourses::Compared& SimulatedCourses::drawn(Compared& compared) const {
  if (compared.distance) return compared;
  signals_.resize(rails_->size());
  for (const Term& term : compared.form->terms) {
    const auto rail = static_cast<std::size_t>(term.rail);
    signals_[rail] = (*rails_)[rail].signals();
  }
  compared.distance.emplace(*compared.form, 1, signals_);
  compared.tolerance = compared.distance->tolerance();
  return compared;
}

SimulatedCourses::Compared* SimulatedCourses::only_one(std::size_t condition) const {
  return plan_.conditions[condition].nodes.size() == 1 ? &comparisons_[condition].front() : nullptr;
}

Bounds SimulatedCourses::bounds_of(std::size_t condition, Reading reading) const {
  return fold_condition(
      plan_.conditions[condition],
      [&](const ConditionNode&, std::size_t i) {
        const Compared& compared = comparisons_[condition][i];
        return compared.bounds[place_of(rules::reading_of(reading, compared.negated))];
      },
      [](const Bounds& bounds) { return negative(bounds); }, joined);
}

void SimulatedCourses::add_changes(std::size_t condition, Reading reading, std::vector<double>& times) const {
  for (Compared& compared : comparisons_[condition]) {
    const Reading own = rules::reading_of(reading, compared.negated);
    if (compared.settled[place_of(own)]) continue;
    const double sign = sign_of(own);
    const OnLine distance(*drawn(compared).distance, 1, sign * compared.error[0], sign * compared.error[1]);
    const double start = distance.value(0);
    const bool above = compared.strict ? start > compared.tolerance : start >= -compared.tolerance;
    add_crossings(distance, compared.tolerance, above, length_, times);
  }
}

bool SimulatedCourses::holds(std::size_t condition, Reading reading, double time) const {
  const double share = share_at(time);
  return is_true(plan_.conditions[condition], [&](const ConditionNode&, std::size_t i) {
    Compared& compared = comparisons_[condition][i];
    const Reading own = rules::reading_of(reading, compared.negated);
    if (const std::optional<bool>& known = compared.settled[place_of(own)]) return *known;
    const double error = compared.error[0] + (compared.error[1] - compared.error[0]) * share;
    const double distance = drawn(compared).distance->value(share) + sign_of(own) * error;
    return compared.strict ? distance > compared.tolerance : distance >= -compared.tolerance;
  });
}

std::optional<Least> SimulatedCourses::least_below(std::size_t condition, Reading reading, double from, double to,
                                                   double known) const {
  const double tolerance = same_as(known);
  if (bounds_of(condition, reading).low >= known - tolerance / 2) return std::nullopt;
  const auto least = [&](const Curve& negative) -> std::optional<Least> {
    const auto found = circuit::maximum_above(negative, -known, tolerance, share_at(from), share_at(to));
    if (!found) return std::nullopt;
    return Least{-found->value, found->time * length_};
  };
  if (Compared* compared = only_one(condition)) {
    const double sign = sign_of(reading);
    return least(OnLine(*drawn(*compared).distance, -1, sign * compared->error[0], sign * compared->error[1]));
  }
  return least(ConditionCurve(*this, condition, reading));
}

std::optional<double> SimulatedCourses::greatest_above(std::size_t condition, double known) const {
  const double tolerance = same_as(known);
  if (bounds_of(condition, Reading::AsWritten).high <= known + tolerance / 2) return std::nullopt;
  const auto greatest = [&](const Curve& distance) {
    const auto found = circuit::maximum_above(distance, known, tolerance);
    return found ? std::optional(found->value) : std::nullopt;
  };
  if (Compared* compared = only_one(condition)) return greatest(*drawn(*compared).distance);
  return greatest(OnLine(ConditionCurve(*this, condition, Reading::AsWritten), -1, 0, 0));
}

double SimulatedCourses::height(double time) const {
  return drawn(comparisons_.front().front()).distance->value(share_at(time));
}

double SimulatedCourses::height_noise() const {
  return kStepError / circuit::kRoundingShare * drawn(comparisons_.front().front()).distance->rounding();
}

void SimulatedCourses::add_turns(std::vector<double>& times) const {
  const RailSignals rail = (*rails_)[static_cast<std::size_t>(plan_.rails.front())].signals();
  const circuit::SignalCurve slope(rail.piece->port_voltage.derivative());
  add_crossings(slope, slope.rounding(), slope.value(0) > 0, length_, times);
}

}  // namespace rampart
