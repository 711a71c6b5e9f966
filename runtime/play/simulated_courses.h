#pragma once

#include <optional>
#include <vector>

#include "compiler/rules/courses.h"
#include "compiler/rules/rule_plan.h"
#include "runtime/play/form_curve.h"

namespace rampart {

// What a rail's output may be off, V and A, at the beginning and the end of a piece; straight in between.
struct OutputError {
  double voltage[2] = {0, 0};
  double current[2] = {0, 0};
  double power[2] = {0, 0};
};

// The conditions of one rule during a piece of the simulation: on what arrives at the load.
class SimulatedCourses final : public rules::Courses {
 public:
  // All by rail; the plan and the pieces must outlive it. `length` in s.
  SimulatedCourses(const rules::RulePlan& plan, const std::vector<RailSignals>& rails,
                   const std::vector<OutputError>& errors, double length);

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
  // A comparison's distance as written, and what may be added to it or taken away.
  struct Compared {
    FormCurve distance;
    double error[2];
    double tolerance;
    bool strict;
    bool negated;
  };
  [[nodiscard]] double share_at(double time) const { return length_ > 0 ? time / length_ : 0; }

  const rules::RulePlan& plan_;
  const std::vector<RailSignals>& rails_;
  double length_;
  std::vector<std::vector<Compared>> comparisons_;  // of each condition
};

}  // namespace rampart
