#include "runtime/sweep/parameter_scan.h"

#include <algorithm>
#include <iterator>
#include <set>
#include <utility>

#include "lang/job/parallel.h"

namespace rampart::sweep {

ParameterScan::ParameterScan(const Trials& trials, std::string name, const ValueGrid& grid,
                             const Range<Quantity>& range, const Quantity& step)
    : tries_(trials), name_(std::move(name)), grid_(grid), range_(range), step_(step) {}

Quantity ParameterScan::value_at(std::int64_t index) const {
  return {grid_.at(index), step_.dimension};
}

std::string ParameterScan::setting_at(std::int64_t index) const {
  const std::string text = setting_text(value_at(index), range_);
  return text.empty() ? text : name_ + "=" + text;
}

void ParameterScan::scan(const Job& job) {
  std::set<std::int64_t> indices;
  const std::int64_t last = grid_.count() - 1;
  const std::int64_t parts = std::min(last, kScanned - 1);
  for (std::int64_t i = 0; i <= parts; ++i) {
    indices.insert(parts == 0 ? 0 : static_cast<std::int64_t>(Int128{i} * last / parts));
  }
  if (grid_.present()) indices.insert(*grid_.present());
  try_all({indices.begin(), indices.end()}, job);
}

void ParameterScan::refine(const Job& job) {
  for (;;) {
    std::vector<std::int64_t> between;
    for (auto at = trials_.begin(), next = std::next(at); next != trials_.end(); at = next++) {
      if (next->first - at->first > 1 && next->second.errors != at->second.errors) {
        between.push_back(at->first + (next->first - at->first) / 2);
      }
    }
    if (between.empty()) return;
    if (trials_.size() + between.size() > kMostTrials) {
      refined_ = false;
      return;
    }
    try_all(between, job);
  }
}

const Trial& ParameterScan::try_one(std::int64_t index, const Job& job) {
  const auto known = trials_.find(index);
  if (known != trials_.end()) return known->second;
  return trials_.emplace(index, tries_.at(name_, value_at(index), job.quietly())).first->second;
}

void ParameterScan::try_all(const std::vector<std::int64_t>& indices, const Job& job) {
  std::vector<Trial> results(indices.size());
  Job alone = job.quietly();
  alone.threads = 1;
  run_parallel(indices.size(), job, [&](std::size_t i) { results[i] = tries_.at(name_, value_at(indices[i]), alone); });
  for (std::size_t i = 0; i < indices.size(); ++i) trials_.insert_or_assign(indices[i], std::move(results[i]));
}

std::vector<Interval> ParameterScan::intervals() const {
  std::vector<Interval> found;
  const Trial* before = nullptr;
  for (const auto& [index, trial] : trials_) {
    const bool goes_on = before != nullptr && before->holds();
    if (trial.holds() && !goes_on) {
      found.push_back({trial, trial, before != nullptr ? std::optional(*before) : std::nullopt, std::nullopt});
    } else if (trial.holds()) {
      found.back().high = trial;
    } else if (goes_on) {
      found.back().above = trial;
    }
    before = &trial;
  }
  return found;
}

ParameterSweep ParameterScan::result(const Trial& present) const {
  ParameterSweep result;
  result.name = name_;
  result.range = range_;
  result.present = present;
  result.step = step_;
  if (grid_.count() > kScanned) {
    const std::int64_t apart = (grid_.count() - 2) / (kScanned - 1) + 1;
    result.scan_step = Quantity{step_.value * Rational(apart), step_.dimension};
  }
  result.refined = refined_;
  result.tried = static_cast<std::int64_t>(trials_.size());
  result.intervals = intervals();
  if (result.intervals.empty()) {
    const auto least = std::min_element(trials_.begin(), trials_.end(), [](const auto& a, const auto& b) {
      return a.second.errors.size() < b.second.errors.size();
    });
    result.least_bad = least->second;
  }
  return result;
}

}  // namespace rampart::sweep
