#pragma once

#include <memory>
#include <string_view>
#include <vector>

#include "compiler/rules/monitor.h"
#include "runtime/play/simulated_courses.h"
#include "runtime/rail/rail_run.h"

namespace rampart {

// Judges the rules of a profile on what the simulation brings to the load.
class RuleWatch {
 public:
  // `is_certain`: the outputs of the run are known, so nothing is kept back for their accuracy.
  RuleWatch(const Table& table, bool is_certain);

  // The same without its rules.
  [[nodiscard]] RuleWatch without_rules() const;
  // The same, going on by itself for as long as this one is there.
  [[nodiscard]] RuleWatch clone() const;
  // Goes on as another would, `by` later; what began before the other's last pass did, and what was found, is its own.
  void continue_as(const RuleWatch& other, const Instant& by, const Instant& pass_began);
  // What is asked of this rail is asked of each instant by itself, in one comparison.
  [[nodiscard]] bool look_at_instants(RailId rail) const;

  // A row of this rail has just come into effect, or its output's switch has closed.
  void note_change(const RailRun& rail, const Instant& now);
  // Takes the planned pieces of all rails, which are `length` s long.
  void take(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now, double length,
            const Passes& passes);
  void mark(std::string_view name, const Instant& now, const Passes& passes);
  void finish(const Instant& now, const Passes& passes);
  // What the coming verdicts depend on besides the rails.
  [[nodiscard]] rules::MonitorState state(const Instant& now) const;
  // After passes were added without being walked: what has begun since `pass_began` began later.
  void shift(const Instant& by, const Instant& pass_began);
  [[nodiscard]] std::vector<RuleResult> results() const;

 private:
  RuleWatch() = default;
  [[nodiscard]] OutputError error_of(const RailRun& rail, double length) const;

  std::vector<rules::RulePlan> plans_;
  std::vector<std::unique_ptr<rules::Monitor>> monitors_;
  std::vector<double> signs_;  // by rail: -1 for one that is reversed
  std::vector<std::optional<Accuracy<Volts>>> voltage_accuracies_;
  std::vector<std::optional<Accuracy<Amps>>> current_accuracies_;
  std::vector<rules::RailDoing> doing_;
};

}  // namespace rampart
