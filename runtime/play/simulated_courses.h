#pragma once

#include <optional>
#include <vector>

#include "compiler/rules/courses.h"
#include "compiler/rules/rule_plan.h"
#include "runtime/play/form_curve.h"
#include "runtime/play/rail_stretch.h"

namespace rampart {

// The conditions of one rule during a piece of the simulation: on what arrives at the load. What bounds on the rails'
// signals settle needs no curve.
class SimulatedCourses final : public rules::Courses {
 public:
  // The plan must outlive it.
  explicit SimulatedCourses(const rules::RulePlan& plan);

  // The next piece, of `length` s. `rails` by rail; those of the plan look at it, and must until the last question.
  void begin(std::vector<RailStretch>& rails, double length);

  [[nodiscard]] double length() const override { return length_; }
  void add_changes(std::size_t condition, rules::Reading reading, std::vector<double>& times) const override;
  [[nodiscard]] bool holds(std::size_t condition, rules::Reading reading, double time) const override;
  [[nodiscard]] std::optional<rules::Least> least_below(std::size_t condition, rules::Reading reading, double from,
                                                        double to, double known) const override;
  [[nodiscard]] std::optional<double> greatest_above(std::size_t condition, double known) const override;
  [[nodiscard]] double height(double time) const override;
  [[nodiscard]] double height_noise() const override;
  void add_turns(std::vector<double>& times) const override;

 private:
  friend class ConditionCurve;
  // One comparison, and what is known of it in the present piece.
  struct Compared {
    Compared(const Comparison& comparison, bool is_negated);

    const LinearForm* form;
    double constant;
    std::vector<double> coefficients;  // of each term
    bool strict;
    bool negated;
    // What may be added to the distance or taken away.
    double error[2] = {0, 0};
    // By the reading of the comparison: what the distance keeps within, and whether it holds, where that is the same
    // throughout and beyond rounding.
    circuit::Bounds bounds[3];
    std::optional<bool> settled[3];
    // The distance as written, where bounds do not do.
    std::optional<FormCurve> distance;
    double tolerance = 0;
  };
  // With its distance.
  const Compared& drawn(Compared& compared) const;
  // Of a condition that is a single comparison.
  [[nodiscard]] Compared* only_one(std::size_t condition) const;
  [[nodiscard]] circuit::Bounds bounds_of(std::size_t condition, rules::Reading reading) const;
  void bound(Compared& compared);
  [[nodiscard]] double share_at(double time) const { return length_ > 0 ? time / length_ : 0; }

  const rules::RulePlan& plan_;
  std::vector<RailStretch>* rails_ = nullptr;
  double length_ = 0;
  // Of each condition. A distance follows from the rails, and is made when it is asked for.
  mutable std::vector<std::vector<Compared>> comparisons_;
  mutable std::vector<RailSignals> signals_;  // by rail, room for those of the plan
};

}  // namespace rampart
