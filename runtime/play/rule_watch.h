#pragma once

#include <cstdint>
#include <memory>
#include <string_view>
#include <vector>

#include "compiler/rules/monitor.h"
#include "runtime/play/rail_stretch.h"
#include "runtime/play/simulated_courses.h"
#include "runtime/rail/rail_run.h"

namespace rampart {

// Judges the rules of a profile on what the simulation brings to the load. A rule follows the steps of its own rails,
// part by part between the ends of any of them.
class RuleWatch {
 public:
  // `is_certain`: the outputs of the run are known, so nothing is kept back for their accuracy. `tells_nearest`: see
  // RulePlan.
  RuleWatch(const Table& table, bool is_certain, bool tells_nearest);

  // Without rules, of so many rails.
  explicit RuleWatch(std::size_t rails) : doing_(rails), by_rail_(rails) {}

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
  // All rails stand at `now`; what comes is followed from there.
  void stand_at(const Instant& now) { followed_.assign(monitors_.size(), now); }
  // Follows the present steps of the rails up to `now`: for the rules on one rail, or for all.
  void follow(const std::vector<std::unique_ptr<RailRun>>& rails, std::size_t rail, const Instant& now,
              const Passes& passes);
  void follow(const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now, const Passes& passes);
  void mark(std::string_view name, const Instant& now, const Passes& passes);
  void finish(const Instant& now, const Passes& passes);
  // What the coming verdicts depend on besides the rails.
  [[nodiscard]] rules::MonitorState state(const Instant& now) const;
  // The same exactly; see Monitor::add_memory().
  void add_memory(const Instant& now, std::vector<double>& memory) const;
  // After passes were added without being walked: what has begun since `pass_began` began later.
  void shift(const Instant& by, const Instant& pass_began);
  [[nodiscard]] std::vector<RuleResult> results() const;

 private:
  void add(std::unique_ptr<rules::Monitor> monitor);
  void follow(std::size_t monitor, const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& now,
              const Passes& passes);

  std::vector<rules::RulePlan> plans_;
  std::vector<std::unique_ptr<rules::Monitor>> monitors_;
  std::vector<Instant> followed_;  // of each monitor: until when
  std::vector<rules::RailDoing> doing_;
  std::vector<std::vector<std::size_t>> by_rail_;  // the monitors that look at it
  std::vector<SimulatedCourses> courses_;          // of each monitor: room for the piece that it is shown
  std::vector<RailStretch> stretches_;             // by rail: what the monitors see of it
  std::int64_t turn_ = 0;                          // of following, in which no rail goes on
};

}  // namespace rampart
