#include "runtime/play/work_budget.h"

#include <algorithm>

namespace rampart {
namespace {

// Steps from one look at the job to the next.
constexpr std::int64_t kStepsBetween = 256;
// Of the trials of one loop, in steps.
constexpr std::int64_t kMostTrialWork = kMostSteps / 8;
// Rows that take as long as a step.
constexpr std::int64_t kRowsOfStep = 8;

}  // namespace

WorkBudget WorkBudget::for_trials() const {
  WorkBudget result(job_);
  result.tells_progress_ = false;
  result.most_ = std::min(kMostTrialWork, left());
  return result;
}

void WorkBudget::take_rows(std::int64_t rows) {
  rows_ += rows;
  if (rows_ < kRowsOfStep * kStepsBetween) return;
  work_ += rows_ / kRowsOfStep;
  rows_ %= kRowsOfStep;
  if (job_ != nullptr) job_->check();
}

void WorkBudget::take_step(const RailRun& rail, const Table& table, const Instant& now, bool safe_playing) {
  ++steps_;
  if (job_ != nullptr && steps_ % kStepsBetween == 0) {
    job_->check();
    if (tells_progress_ && !safe_playing) tell_progress(table, now);
  }
  work_ += rail.circuit().is_affine() ? 1 : kSolvedStep;
}

void WorkBudget::tell_progress(const Table& table, const Instant& now) const {
  const std::int64_t all = table.timeline().duration().count();
  if (!job_->progress || now.whole.count() >= all) return;
  job_->progress(static_cast<std::size_t>(now.whole.count()), static_cast<std::size_t>(all));
}

bool WorkBudget::is_spent_by(const PassEnded& pass, std::int64_t unlike) {
  const auto [before, is_first] = work_at_pass_.try_emplace(pass.loop, work_);
  const std::int64_t cost = work_ - before->second;
  before->second = work_;
  return !is_first && pass.pass != 1 && unlike > 0 && cost > left() / unlike;
}

}  // namespace rampart
