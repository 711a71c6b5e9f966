#include "runtime/as_run/measured_courses.h"

#include <algorithm>
#include <cmath>

#include "compiler/profile/fold_condition.h"

namespace rampart::as_run {
namespace {

using rules::Least;
using rules::Reading;

struct Valued {
  double value = 0;
  double less = 0;  // that it may be
  double more = 0;
};

Valued read(const Term& term, const RailPoint& point, double sign) {
  switch (term.signal) {
    case Signal::Current:
      return {point.amps, point.amps_error, point.amps_error};
    case Signal::Power: {
      const double error = std::abs(point.volts) * point.amps_error + std::abs(point.amps) * point.volts_error;
      return {sign * point.volts * point.amps, error, error};
    }
    default:
      return {point.volts, point.volts_error + point.moved_down, point.volts_error + point.moved_up};
  }
}

double between(double from, double to, double share) {
  return from + (to - from) * share;
}

}  // namespace

MeasuredCourses::MeasuredCourses(const rules::RulePlan& plan, const std::vector<RailPoint>& from,
                                 const std::vector<RailPoint>& to, const std::vector<double>& signs, double length,
                                 double sign)
    : plan_(plan), length_(length), sign_(sign) {
  for (std::size_t i = 0; i < plan.conditions.size(); ++i) {
    std::vector<Compared>& all = comparisons_.emplace_back();
    for_each_comparison(plan.conditions[i], [&](const Comparison& comparison) {
      Compared compared;
      compared.strict = comparison.strict;
      compared.negated = plan.negated[i][all.size()];
      for (const std::size_t end : {std::size_t{0}, std::size_t{1}}) {
        compared.value[end] = comparison.form.constant.to_double();
        for (const Term& term : comparison.form.terms) {
          const auto rail = static_cast<std::size_t>(term.rail);
          const Valued valued = read(term, end == 0 ? from[rail] : to[rail], signs[rail]);
          const double weight = term.coefficient.to_double();
          compared.value[end] += weight * valued.value;
          compared.less[end] += weight > 0 ? weight * valued.less : -weight * valued.more;
          compared.more[end] += weight > 0 ? weight * valued.more : -weight * valued.less;
        }
      }
      all.push_back(compared);
    });
  }
}

double MeasuredCourses::end_of(const Compared& compared, Reading reading, std::size_t end) const {
  if (reading == Reading::AsWritten) return compared.value[end];
  const Reading own = rules::reading_of(reading, compared.negated);
  const bool is_less = (own == Reading::Surely) == (sign_ > 0);
  return compared.value[end] + (is_less ? -compared.less[end] : compared.more[end]);
}

double MeasuredCourses::distance(std::size_t condition, Reading reading, double time) const {
  const double share = share_at(time);
  return fold_condition(
      plan_.conditions[condition],
      [&](const ConditionNode&, std::size_t i) {
        const Compared& compared = comparisons_[condition][i];
        return between(end_of(compared, reading, 0), end_of(compared, reading, 1), share);
      },
      [](double value) { return -value; },
      [](const ConditionNode& node, double a, double b) {
        return node.op == Truth::And ? std::min(a, b) : std::max(a, b);
      });
}

void MeasuredCourses::add_crossings(std::size_t condition, Reading reading, std::vector<double>& times) const {
  const std::vector<Compared>& all = comparisons_[condition];
  const auto add = [&](double from, double to) {
    if ((from < 0) == (to < 0) || from == to) return;
    times.push_back(length_ * from / (from - to));
  };
  for (std::size_t i = 0; i < all.size(); ++i) {
    const double a0 = end_of(all[i], reading, 0);
    const double a1 = end_of(all[i], reading, 1);
    add(a0, a1);
    for (std::size_t j = i + 1; j < all.size(); ++j) {
      const double b0 = end_of(all[j], reading, 0);
      const double b1 = end_of(all[j], reading, 1);
      add(a0 - b0, a1 - b1);
      add(a0 + b0, a1 + b1);
    }
  }
}

void MeasuredCourses::add_changes(std::size_t condition, Reading reading, std::vector<double>& times) const {
  for (const Compared& compared : comparisons_[condition]) {
    const double from = end_of(compared, reading, 0);
    const double to = end_of(compared, reading, 1);
    if ((from < 0) != (to < 0) && from != to) times.push_back(length_ * from / (from - to));
  }
}

bool MeasuredCourses::holds(std::size_t condition, Reading reading, double time) const {
  const double share = share_at(time);
  return is_true(plan_.conditions[condition], [&](const ConditionNode&, std::size_t i) {
    const Compared& compared = comparisons_[condition][i];
    const double value = between(end_of(compared, reading, 0), end_of(compared, reading, 1), share);
    return compared.strict ? value > 0 : value >= 0;
  });
}

std::optional<Least> MeasuredCourses::least_below(std::size_t condition, Reading reading, double from, double to,
                                                  double known) const {
  std::vector<double> times{from, to};
  std::vector<double> crossings;
  add_crossings(condition, reading, crossings);
  for (const double time : crossings) {
    if (time > from && time < to) times.push_back(time);
  }
  Least least{known, from};
  bool found = false;
  for (const double time : times) {
    const double value = distance(condition, reading, time);
    if (value < least.value) {
      least = {value, time};
      found = true;
    }
  }
  return found ? std::optional(least) : std::nullopt;
}

std::optional<double> MeasuredCourses::greatest_above(std::size_t condition, double known) const {
  std::vector<double> times{0, length_};
  add_crossings(condition, Reading::AsWritten, times);
  double greatest = known;
  for (const double time : times) {
    if (time < 0 || time > length_) continue;
    greatest = std::max(greatest, distance(condition, Reading::AsWritten, time));
  }
  return greatest > known ? std::optional(greatest) : std::nullopt;
}

double MeasuredCourses::height(double time) const {
  const Compared& first = comparisons_.front().front();
  return between(first.value[0], first.value[1], share_at(time));
}

// A turn that the meter's error may have made is none.
double MeasuredCourses::height_noise() const {
  const Compared& first = comparisons_.front().front();
  return 2 * std::max({first.less[0], first.less[1], first.more[0], first.more[1]});
}

// Straight lines turn only where they meet.
void MeasuredCourses::add_turns(std::vector<double>& /*times*/) const {}

}  // namespace rampart::as_run
