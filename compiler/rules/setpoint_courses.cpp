#include "compiler/rules/setpoint_courses.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "compiler/profile/fold_condition.h"
#include "lang/values/fitting.h"

namespace rampart::rules {
namespace {

constexpr double kEndRounding = 1e-12;

// Exact as long as it fits in 128 bits.
class Total {
 public:
  explicit Total(const Rational& start) : exact_(start), near_(start.to_double()) {}
  void add(const Rational& factor, const Rational& value) { add(factor, value, value.to_double()); }
  // `near` for where the value itself does not fit.
  void add(const Rational& factor, const Rational& value, double near) {
    if (!exact_.overflowed()) exact_ = exact_ + factor * value;
    near_ += factor.to_double() * near;
  }
  [[nodiscard]] double value() const { return exact_.overflowed() ? near_ : exact_.to_double(); }

 private:
  Rational exact_;
  double near_;
};

Rational minus(const Rational& a, const Rational& b) {
  return fitting(a - b, a.to_double() - b.to_double());
}

// What a rail puts out at worst for a distance: a lag counts where it makes the distance less (`sign` -1) or more (1),
// and accuracy does. `sign` 0: as written.
void add_voltage(Total& total, const Rational& coefficient, int sign, const SetpointPiece& rail,
                 const std::optional<Accuracy<Volts>>& accuracy, const Rational& setpoint, const Rational& lag) {
  const bool counts = rail.lag_is_certain || -coefficient.sign() * lag.sign() == sign;
  const Rational played = sign != 0 && counts ? minus(setpoint, lag) : setpoint;
  total.add(coefficient, played);
  if (sign == 0 || !rail.on || !accuracy) return;
  total.add(Rational(sign) * abs(coefficient), accuracy->at(Volts{played}).si,
            accuracy->fraction.to_double() * std::abs(played.to_double()) + accuracy->offset.to_double());
}

constexpr std::size_t index_of(Reading reading) {
  return static_cast<std::size_t>(reading);
}

}  // namespace

double SetpointCourses::Ends::at(Reading reading, double share) const {
  const std::size_t i = index_of(reading_of(reading, negated));
  return from[i] == to[i] ? from[i] : from[i] + (to[i] - from[i]) * share;
}

SetpointCourses::SetpointCourses(const RulePlan& plan, std::span<const std::optional<Accuracy<Volts>>> accuracies,
                                 std::span<const SetpointPiece> rails, double length)
    : plan_(plan), length_(length) {
  for (std::size_t i = 0; i < plan.conditions.size(); ++i) {
    std::vector<Ends>& all = comparisons_.emplace_back();
    for_each_comparison(plan.conditions[i], [&](const Comparison& comparison) {
      Ends ends = ends_of(comparison, rails, accuracies);
      ends.negated = plan.negated[i][all.size()];
      all.push_back(ends);
    });
  }
}

SetpointCourses::Ends SetpointCourses::ends_of(const Comparison& comparison, std::span<const SetpointPiece> rails,
                                               std::span<const std::optional<Accuracy<Volts>>> accuracies) const {
  Ends ends;
  ends.strict = comparison.strict;
  Total jump(0);
  const bool stays = std::all_of(comparison.form.terms.begin(), comparison.form.terms.end(), [&](const Term& term) {
    const SetpointPiece& rail = rails[static_cast<std::size_t>(term.rail)];
    return term.signal == Signal::Slew || (rail.from == rail.to && rail.lag_from == rail.lag_to);
  });
  for (const int sign : {0, -1, 1}) {
    Total from(comparison.form.constant);
    Total to(comparison.form.constant);
    for (const Term& term : comparison.form.terms) {
      const auto id = static_cast<std::size_t>(term.rail);
      const SetpointPiece& rail = rails[id];
      if (term.signal == Signal::Slew) {
        from.add(term.coefficient, rail.slew);
        if (!stays) to.add(term.coefficient, rail.slew);
        if (sign == 0 && length_ <= 0) jump.add(term.coefficient, rail.jump);
        continue;
      }
      add_voltage(from, term.coefficient, sign, rail, accuracies[id], rail.from, rail.lag_from);
      if (!stays) add_voltage(to, term.coefficient, sign, rail, accuracies[id], rail.to, rail.lag_to);
    }
    const std::size_t i = index_of(sign == 0 ? Reading::AsWritten : sign < 0 ? Reading::Surely : Reading::Possibly);
    ends.from[i] = from.value();
    ends.to[i] = stays ? ends.from[i] : to.value();
  }
  if (jump.value() != 0) {
    const double unbounded = std::copysign(std::numeric_limits<double>::infinity(), jump.value());
    std::fill_n(ends.from, 3, unbounded);
    std::fill_n(ends.to, 3, unbounded);
  }
  return ends;
}

void SetpointCourses::add_changes(std::size_t condition, Reading reading, std::vector<double>& times) const {
  for (const Ends& ends : comparisons_[condition]) {
    const double from = ends.at(reading, 0);
    const double to = ends.at(reading, 1);
    if ((from < 0 && to > 0) || (from > 0 && to < 0)) times.push_back(length_ * (from / (from - to)));
  }
}

bool SetpointCourses::holds(std::size_t condition, Reading reading, double time) const {
  return is_true(plan_.conditions[condition], [&](const ConditionNode&, std::size_t i) {
    const Ends& ends = comparisons_[condition][i];
    const double distance = ends.at(reading, share_at(time));
    return ends.strict ? distance > 0 : distance >= 0;
  });
}

BrokenLine SetpointCourses::distance(std::size_t condition, Reading reading) const {
  return fold_condition(
      plan_.conditions[condition],
      [&](const ConditionNode&, std::size_t i) {
        const Ends& ends = comparisons_[condition][i];
        BrokenLine line{{0, ends.at(reading, 0)}};
        if (length_ > 0) line.push_back({length_, ends.at(reading, 1)});
        return line;
      },
      [](const BrokenLine& line) { return negative_of(line); },
      [](const ConditionNode& node, const BrokenLine& left, const BrokenLine& right) {
        return node.op == Truth::And ? lower_of(left, right) : upper_of(left, right);
      });
}

std::optional<Least> SetpointCourses::least_below(std::size_t condition, Reading reading, double from, double to,
                                                  double known) const {
  const BrokenLine line = distance(condition, reading);
  std::optional<Least> least;
  const auto offer = [&](double time, double value) {
    if (value < (least ? least->value : known)) least = Least{value, time};
  };
  offer(from, value_at(line, from));
  for (const Knot& knot : line) {
    if (knot.time > from && knot.time < to) offer(knot.time, knot.value);
  }
  if (to > from) offer(to, value_at(line, to));
  return least;
}

std::optional<double> SetpointCourses::greatest_above(std::size_t condition, double known) const {
  double greatest = known;
  for (const Knot& knot : distance(condition, Reading::AsWritten)) greatest = std::max(greatest, knot.value);
  return greatest > known ? std::optional(greatest) : std::nullopt;
}

double SetpointCourses::height(double time) const {
  return comparisons_.front().front().at(Reading::AsWritten, share_at(time));
}

double SetpointCourses::height_noise() const {
  const Ends& ends = comparisons_.front().front();
  return kEndRounding * std::max(std::abs(ends.from[0]), std::abs(ends.to[0]));
}

}  // namespace rampart::rules
