#pragma once

#include <cstdint>
#include <map>

#include "compiler/table/table.h"
#include "lang/job/job.h"
#include "runtime/play/rig.h"

namespace rampart {

// What a simulation has taken so far, against the most that it may.
class WorkBudget {
 public:
  explicit WorkBudget(const Job* job) : job_(job) {}
  // What has been taken counts for another job too.
  [[nodiscard]] WorkBudget of(const Job* job) const {
    WorkBudget result = *this;
    result.job_ = job;
    return result;
  }
  // For passes on trial, which tell no progress: a share of what is left.
  [[nodiscard]] WorkBudget for_trials() const;
  // What trials have taken. It is no part of what the passes of the run take.
  void add_trials(const WorkBudget& trials) { trials_ += trials.work_; }

  // A rail takes a step; now and then tells progress, and throws JobStopped if the job is to stop.
  void take_step(const RailRun& rail, const Table& table, const Instant& now, bool safe_playing);
  // So many rows were gone through, or things as small, without a step of a rail. Throws as take_step() does.
  void take_rows(std::int64_t rows);
  [[nodiscard]] bool is_spent() const { return left() < 0; }
  // A pass of a loop has ended: `unlike` more, each with steps of its own, would take more than is left.
  [[nodiscard]] bool is_spent_by(const PassEnded& pass, std::int64_t unlike);
  [[nodiscard]] std::int64_t steps() const { return steps_; }

 private:
  [[nodiscard]] std::int64_t left() const { return most_ - work_ - trials_; }
  void tell_progress(const Table& table, const Instant& now) const;

  const Job* job_;  // none where a run only stands
  bool tells_progress_ = true;
  std::int64_t steps_ = 0;
  std::int64_t rows_ = 0;  // not yet among the work
  std::int64_t most_ = kMostSteps;
  std::int64_t trials_ = 0;
  std::int64_t work_ = 0;                        // steps of rails, weighted
  std::map<LoopId, std::int64_t> work_at_pass_;  // at the last end of a pass
};

}  // namespace rampart
