#include "runtime/sweep/parameter_scan.h"

#include <algorithm>
#include <iterator>
#include <set>
#include <utility>

#include "lang/job/parallel.h"

namespace rampart::sweep {
namespace {

// In the results of parts, behind the name of a trial.
constexpr const char* kMet = " kept";

}  // namespace

ParameterScan::ParameterScan(const ScanContext& context, std::size_t number, ScanSubject subject)
    : context_(context), number_(number), subject_(std::move(subject)) {
  std::set<std::int64_t> indices;
  const std::int64_t last = subject_.grid.count() - 1;
  const std::int64_t parts = std::min(last, subject_.scanned - 1);
  for (std::int64_t i = 0; i <= parts; ++i) {
    indices.insert(parts <= 0 ? 0 : static_cast<std::int64_t>(Int128{i} * last / parts));
  }
  if (subject_.grid.present()) indices.insert(*subject_.grid.present());
  scanned_.assign(indices.begin(), indices.end());
}

Quantity ParameterScan::value_at(std::int64_t index) const {
  return {subject_.grid.at(index), subject_.step.dimension};
}

std::vector<Held> ParameterScan::held_at(const Quantity& value) const {
  std::vector<Held> held = subject_.others;
  held.push_back({subject_.name, value});
  return held;
}

std::string ParameterScan::setting_at(std::int64_t index) const {
  const std::string text = setting_text(value_at(index), subject_.range);
  return text.empty() ? text : subject_.name + "=" + text;
}

std::string ParameterScan::result_name(std::int64_t index) const {
  return std::to_string(number_) + " " + std::to_string(index);
}

std::size_t ParameterScan::gaps() const {
  return std::max<std::size_t>(scanned_.size() - 1, 1);
}

std::vector<std::int64_t> ParameterScan::first_values(std::size_t first_gap, std::size_t end_gap) const {
  if (first_gap == end_gap) return {};
  const auto begin = scanned_.begin() + static_cast<std::ptrdiff_t>(first_gap);
  const auto end = scanned_.begin() + static_cast<std::ptrdiff_t>(std::min(end_gap + 1, scanned_.size()));
  return {begin, end};
}

void ParameterScan::refine(const Job& job) {
  while (!trials_.empty()) {
    std::vector<std::int64_t> between;
    for (auto at = trials_.begin(), next = std::next(at); next != trials_.end(); at = next++) {
      if (next->first - at->first > 1 && differ(at->second, next->second)) {
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

bool ParameterScan::differ(const Trial& a, const Trial& b) const {
  return subject_.borders_alone ? a.holds() != b.holds() : a.errors != b.errors;
}

Trial ParameterScan::tried(std::int64_t index, const Job& job) const {
  const Quantity value = value_at(index);
  if (const auto known = context_.known.find(result_name(index)); known != context_.known.end()) {
    if (std::optional<Trial> trial = read_trial(known->second, value, context_.texts)) return std::move(*trial);
  }
  return context_.trials.at(held_at(value), job);
}

const Trial& ParameterScan::try_one(std::int64_t index, const Job& job) {
  const auto known = trials_.find(index);
  if (known != trials_.end()) return known->second;
  return trials_.emplace(index, tried(index, job.quietly())).first->second;
}

void ParameterScan::try_all(const std::vector<std::int64_t>& indices, const Job& job) {
  std::vector<Trial> results(indices.size());
  Job alone = job.quietly();
  alone.threads = 1;
  run_parallel(indices.size(), job, [&](std::size_t i) { results[i] = tried(indices[i], alone); });
  for (std::size_t i = 0; i < indices.size(); ++i) trials_.insert_or_assign(indices[i], std::move(results[i]));
}

bool ParameterScan::meets(std::int64_t index, const Demand& demand, const Job& job) {
  const auto [known, is_new] = met_.try_emplace(index, false);
  if (!is_new) return known->second;
  const auto from_part = context_.known.find(result_name(index) + kMet);
  known->second = from_part != context_.known.end() ? from_part->second == "1"
                                                    : context_.trials.meets(held_at(value_at(index)), demand, job);
  return known->second;
}

Weighed ParameterScan::weighed(std::int64_t index, const Demand& demand, const Job& job) const {
  return context_.trials.weighed(held_at(value_at(index)), demand, job);
}

Trial ParameterScan::explained(const Trial& trial, const Job& job) const {
  if (trial.errors.empty() || trial.first_error) return trial;
  Trial explained = context_.trials.explained(held_at(trial.value), job);
  if (explained.errors.empty()) throw contradiction(trial.value);
  return explained;
}

PartMistake ParameterScan::contradiction(const Quantity& value) const {
  return {"the parts say that `" + subject_.name + "` at " + parameter_text(value, subject_.range) +
          " fails, and it passes here: make them anew, with the same version"};
}

Results ParameterScan::results() const {
  Results results;
  for (const auto& [index, trial] : trials_) results[result_name(index)] = trial_text(trial, context_.texts);
  for (const auto& [index, met] : met_) results[result_name(index) + kMet] = met ? "1" : "0";
  return results;
}

std::vector<Interval> ParameterScan::intervals(const Job& job) const {
  std::vector<Interval> found;
  const Trial* before = nullptr;
  for (const auto& [index, trial] : trials_) {
    const bool goes_on = before != nullptr && before->holds();
    if (trial.holds() && !goes_on) {
      found.push_back(
          {trial, trial, before != nullptr ? std::optional(explained(*before, job)) : std::nullopt, std::nullopt});
    } else if (trial.holds()) {
      found.back().high = trial;
    } else if (goes_on) {
      found.back().above = explained(trial, job);
    }
    before = &trial;
  }
  return found;
}

ParameterSweep ParameterScan::result(const Trial& present, const Job& job) const {
  ParameterSweep result;
  result.name = subject_.name;
  result.range = subject_.range;
  result.present = present;
  result.step = subject_.step;
  if (subject_.grid.count() > subject_.scanned) {
    const std::int64_t apart = (subject_.grid.count() - 2) / (subject_.scanned - 1) + 1;
    result.scan_step = Quantity{subject_.step.value * Rational(apart), subject_.step.dimension};
  }
  result.refined = refined_;
  for (const auto& [index, trial] : trials_) result.trials.push_back(trial);
  result.intervals = intervals(job);
  if (!result.intervals.empty()) return result;
  const auto least = std::min_element(result.trials.begin(), result.trials.end(), is_less_bad);
  result.least_bad = explained(*least, job);
  return result;
}

}  // namespace rampart::sweep
