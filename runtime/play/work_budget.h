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

  // A rail takes a step; now and then tells progress, and throws JobStopped if the job is to stop.
  void take_step(const RailRun& rail, const Table& table, const Instant& now, bool safe_playing);
  [[nodiscard]] bool is_spent() const { return work_ > kMostSteps; }
  // A pass of a loop has ended: `unlike` more, each with steps of its own, would take more than is left.
  [[nodiscard]] bool is_spent_by(const PassEnded& pass, std::int64_t unlike);
  [[nodiscard]] std::int64_t steps() const { return steps_; }

 private:
  void tell_progress(const Table& table, const Instant& now) const;

  const Job* job_;  // none in a trial, or where a run only stands
  std::int64_t steps_ = 0;
  std::int64_t work_ = 0;                        // steps of rails, weighted
  std::map<LoopId, std::int64_t> work_at_pass_;  // at the last end of a pass
};

}  // namespace rampart
