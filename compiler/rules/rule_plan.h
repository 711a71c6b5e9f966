#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/rules/courses.h"
#include "compiler/rules/rules.h"

namespace rampart::rules {

// A rule taken apart: what it asks of which conditions, and what time the skew of the bench may take away.
struct RulePlan {
  std::size_t index = 0;
  const Rule* rule = nullptr;
  // always: the condition and its premise; before: the first and the second; within: the response and what calls for
  // it; rises and falls: that the rail has left the level it starts from, and that it has reached the other.
  std::vector<Condition> conditions;
  std::vector<std::vector<bool>> negated;            // of each condition: its comparisons under an odd number of `not`
  std::vector<std::vector<RailId>> condition_rails;  // those that each condition speaks of
  std::vector<RailId> rails;                         // all of them
  std::string unit;
  Nanoseconds skew{0};
  bool has_slew = false;
  bool has_measured = false;  // currents or powers
  bool is_endless = false;    // its phase does not end, which is an error of its own
  bool tells_nearest = true;  // RuleResult::nearest is asked for

  [[nodiscard]] bool fits(RuleSide side) const {
    return !is_endless && (side == RuleSide::Setpoints ? !has_measured : !has_slew);
  }
};

[[nodiscard]] std::vector<RulePlan> plan_rules(const Table& table);

// The reading of a comparison in a reading of the condition around it.
[[nodiscard]] Reading reading_of(Reading condition, bool negated);

// Error of what a rail's channels put out against what is set: of one channel, or of all members together.
[[nodiscard]] std::optional<Accuracy<Volts>> voltage_accuracy(const Table& table, RailId rail);
[[nodiscard]] std::optional<Accuracy<Amps>> current_accuracy(const Table& table, RailId rail);

}  // namespace rampart::rules
