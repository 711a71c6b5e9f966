#pragma once

#include <optional>
#include <span>
#include <vector>

#include "compiler/rules/broken_line.h"
#include "compiler/rules/courses.h"
#include "compiler/rules/rule_plan.h"

namespace rampart::rules {

// A rail during a piece: straight from one voltage to another, 0 V while it is off.
struct SetpointPiece {
  Rational from;
  Rational to;
  Rational slew;      // V/s
  Rational lag_from;  // V: by how much what is played is behind, or may be
  Rational lag_to;
  bool lag_is_certain = false;
  bool on = false;
  Rational jump;  // V: at the instant where the piece begins; only looked at where the piece has no length
};

// The conditions of one rule while every rail goes straight.
class SetpointCourses final : public Courses {
 public:
  // `accuracies` by rail. The plan must outlive it.
  SetpointCourses(const RulePlan& plan, std::span<const std::optional<Accuracy<Volts>>> accuracies,
                  std::span<const SetpointPiece> rails, double length);

  [[nodiscard]] double length() const override { return length_; }
  void add_changes(std::size_t condition, Reading reading, std::vector<double>& times) const override;
  [[nodiscard]] bool holds(std::size_t condition, Reading reading, double time) const override;
  [[nodiscard]] std::optional<Least> least_below(std::size_t condition, Reading reading, double from, double to,
                                                 double known) const override;
  [[nodiscard]] std::optional<double> greatest_above(std::size_t condition, double known) const override;
  [[nodiscard]] double height(double time) const override;
  [[nodiscard]] double height_noise() const override;
  void add_turns(std::vector<double>&) const override {}

 private:
  // A comparison's distance at both ends, by reading.
  struct Ends {
    double from[3] = {0, 0, 0};
    double to[3] = {0, 0, 0};
    bool strict = false;
    bool negated = false;

    [[nodiscard]] double at(Reading reading, double share) const;
  };
  [[nodiscard]] Ends ends_of(const Comparison& comparison, std::span<const SetpointPiece> rails,
                             std::span<const std::optional<Accuracy<Volts>>> accuracies) const;
  [[nodiscard]] double share_at(double time) const { return length_ > 0 ? time / length_ : 0; }
  [[nodiscard]] BrokenLine distance(std::size_t condition, Reading reading) const;

  const RulePlan& plan_;
  double length_;
  std::vector<std::vector<Ends>> comparisons_;  // of each condition
};

}  // namespace rampart::rules
