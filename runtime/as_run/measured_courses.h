#pragma once

#include <optional>
#include <vector>

#include "compiler/rules/courses.h"
#include "compiler/rules/rule_plan.h"

namespace rampart::as_run {

// What a rail was measured to be at one instant, at its load, and how far that may be off.
struct RailPoint {
  bool known = false;
  double volts = 0;
  double volts_error = 0;
  double amps = 0;
  double amps_error = 0;
  double read_s = 0;  // of the run
  // By how much it may differ from that at the instants looked at, V: by the slew that the bench declares, and no
  // further than its supply can go. 0: nothing is declared.
  double moved_down = 0;
  double moved_up = 0;
};

// The conditions of one rule between two instants at which all its rails were measured: straight lines.
class MeasuredCourses final : public rules::Courses {
 public:
  // All by rail; the plan outlives it. `sign`: 1 takes the error off every distance, -1 adds it.
  MeasuredCourses(const rules::RulePlan& plan, const std::vector<RailPoint>& from, const std::vector<RailPoint>& to,
                  const std::vector<double>& signs, double length, double sign);

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
  // A comparison's distance, and by how much it may be less and more, at both ends.
  struct Compared {
    double value[2] = {0, 0};
    double less[2] = {0, 0};
    double more[2] = {0, 0};
    bool strict = false;
    bool negated = false;
  };
  [[nodiscard]] double share_at(double time) const { return length_ > 0 ? time / length_ : 0; }
  [[nodiscard]] double end_of(const Compared& compared, rules::Reading reading, std::size_t end) const;
  [[nodiscard]] double distance(std::size_t condition, rules::Reading reading, double time) const;
  // Times at which comparisons of a condition cross zero, or each other.
  void add_crossings(std::size_t condition, rules::Reading reading, std::vector<double>& times) const;

  const rules::RulePlan& plan_;
  double length_;
  double sign_;
  std::vector<std::vector<Compared>> comparisons_;
};

}  // namespace rampart::as_run
