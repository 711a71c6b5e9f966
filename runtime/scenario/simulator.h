#pragma once

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
  [[nodiscard]] const std::vector<spread::Tolerance>& tolerances() const { return tolerances_.list(); }

  // What the rails do goes to the sink, where there is one; how much of the table has been played, in ns, to the job's
  // progress. Throws JobStopped.
  [[nodiscard]] Simulation run(const Scenario& scenario = {}, CourseSink* sink = nullptr, const Job& job = {}) const;

 private:
  Compiled compiled_;  // kept for as long as its tables are in use
  LoadPtr kept_;
  const Table* run_;
  const Table* safe_;
  const Load* load_;
  spread::Tolerances tolerances_;
};

}  // namespace rampart
