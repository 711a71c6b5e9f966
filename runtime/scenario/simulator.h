#pragma once

#include <memory>
#include <mutex>
#include <optional>
#include <vector>

#include "compiler/compile/compile.h"
#include "compiler/table/table.h"
#include "lang/job/job.h"
#include "runtime/answer/simulation.h"
#include "runtime/load/load_file.h"
#include "runtime/rail/course_sink.h"
#include "runtime/scenario/scenario.h"
#include "runtime/scenario/tolerances.h"

namespace rampart {

// Plays the table of one profile into one load, as often as it is asked to. A run depends on its arguments alone, so
// threads may share a simulator.
class Simulator {
 public:
  // The profile has a table. Without a load all rails are open.
  Simulator(const Compiled& compiled, LoadPtr load);
  // Tables and load outlive it; without an orderly stop `safe` is null.
  Simulator(const Table& run, const Table* safe, const Load& load);

  [[nodiscard]] const Table& table() const { return *run_; }
  [[nodiscard]] const Profile& profile() const { return run_->profile(); }
  [[nodiscard]] const Load& load() const { return *load_; }
  // Of the load, and of what the supplies are set to.
  [[nodiscard]] const std::vector<spread::Tolerance>& tolerances() const { return all_tolerances().list(); }

  // What the rails do goes to the sink, where there is one; how much of the table has been played, in ns, to the job's
  // progress. Notes are for rules_at() and run_fault(). Throws JobStopped.
  [[nodiscard]] Simulation run(const Scenario& scenario = {}, CourseSink* sink = nullptr, const Job& job = {},
                               RunNotes* notes = nullptr) const;
  // The run with a fault, without rules. `before`: a mark that comes before the fault, or null; where the plain run,
  // which took down `marks`, kept its state there, the run begins with that. Throws JobStopped.
  [[nodiscard]] Simulation run_fault(const Injection& fault, const std::string* before, const MarkStates& marks,
                                     const Job& job = {}) const;
  // The rules with output switches that act elsewhere in their ranges. Where none of them is worse than that of the
  // plain run, which took down its milestones, those of that are given: a run ends where it goes on as the plain one
  // did. Throws JobStopped.
  [[nodiscard]] std::vector<RuleResult> rules_at(const SwitchPositions& switches, const std::vector<RuleResult>& plain,
                                                 const Milestones& milestones, const Job& job = {}) const;

 private:
  // What a scenario comes to.
  struct Setup {
    Incidents incidents;
    std::optional<Load> load;  // none: the nominal one
  };
  [[nodiscard]] Setup setup_of(const Scenario& scenario) const;
  // Found when they are first asked for: a plain run needs none.
  [[nodiscard]] const spread::Tolerances& all_tolerances() const;

  Compiled compiled_;  // kept for as long as its tables are in use
  LoadPtr kept_;
  const Table* run_;
  const Table* safe_;
  const Load* load_;
  struct Found {
    std::once_flag once;
    std::optional<spread::Tolerances> tolerances;
  };
  std::shared_ptr<Found> found_ = std::make_shared<Found>();
};

}  // namespace rampart
