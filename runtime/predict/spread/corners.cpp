#include "runtime/predict/spread/corners.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <mutex>
#include <random>

#include "lang/job/parallel.h"

namespace rampart::spread {
namespace {

constexpr std::uint64_t kSeed = 1;
// In the results of parts.
constexpr std::string_view kCorner = "corner";
// Values that differ by less are the same: the tolerance makes no difference.
constexpr double kSame = 1e-6;
constexpr double kLeast = 1e-9;
// With more tolerances, what a failure or an extreme needs is not narrowed down one by one.
constexpr std::size_t kMostNarrowed = 64;

bool same(double a, double b) {
  if (std::isnan(a) || std::isnan(b)) return std::isnan(a) == std::isnan(b);
  return std::abs(a - b) <= kSame * std::max({std::abs(a), std::abs(b), kLeast});
}

// Both ends of each tolerance by itself.
std::vector<Positions> single_ends(std::size_t count) {
  std::vector<Positions> cases;
  for (std::size_t i = 0; i < count; ++i) {
    for (const double end : {-1.0, 1.0}) {
      cases.emplace_back(count);
      cases.back()[i] = end;
    }
  }
  return cases;
}

std::vector<Positions> every_corner(std::size_t count) {
  std::vector<Positions> cases;
  for (std::size_t bits = 0; bits < (std::size_t{1} << count); ++bits) {
    cases.emplace_back(count);
    for (std::size_t i = 0; i < count; ++i) cases.back()[i] = (bits >> i & 1) != 0 ? 1 : -1;
  }
  return cases;
}

// All low, all high, and others at random, the same ones every time.
std::vector<Positions> some_corners(std::size_t count) {
  std::vector<Positions> cases{Positions(count, -1), Positions(count, 1)};
  std::mt19937_64 random(kSeed);
  while (cases.size() < kSampledCorners) {
    cases.emplace_back(count);
    for (double& position : cases.back()) position = (random() >> 63) != 0 ? 1 : -1;
  }
  return cases;
}

class Search {
 public:
  Search(const Runner& runner, const Job& job) : runner_(runner), job_(job), count_(runner.tolerances().size()) {
    CornerCases cases = corner_cases(count_);
    cases_ = std::move(cases.cases);
    singles_ = cases.singles;
    result_.all = cases.all;
    result_.corners = cases_.size() - singles_;
    outcomes_ = runner.run_all(cases_, kCorner, 0, job);
    for (std::size_t i = 0; i < cases_.size(); ++i) known_.emplace(cases_[i], outcomes_[i]);
    known_.emplace(Positions(count_), runner.nominal());
  }

  Corners run() {
    for (std::size_t i = singles_; i < outcomes_.size(); ++i) result_.failing += outcomes_[i].failed();
    result_.readings.resize(runner_.ledger().readings().size());
    run_parallel(result_.readings.size(), job_, [&](std::size_t i) { result_.readings[i] = read(i); });
    find_failures();
    run_parallel(result_.failures.size(), job_, [&](std::size_t i) { narrow(result_.failures[i]); });
    return std::move(result_);
  }

 private:
  // Readings and failures of one corner ask for the same runs: each is made once, or twice where two threads meet.
  [[nodiscard]] const Outcome& outcome(const Positions& at) const {
    {
      const std::lock_guard lock(mutex_);
      const auto known = known_.find(at);
      if (known != known_.end()) return known->second;
    }
    Outcome found = runner_.outcome(at);
    const std::lock_guard lock(mutex_);
    return known_.emplace(at, std::move(found)).first->second;
  }

  CornerReading read(std::size_t reading) const {
    CornerReading result;
    result.nominal = runner_.nominal().values[reading];
    std::optional<std::size_t> low;
    std::optional<std::size_t> high;
    for (std::size_t i = 0; i < outcomes_.size(); ++i) {
      if (i >= singles_) result.failing += outcomes_[i].fails[reading];
      const double value = outcomes_[i].values[reading];
      if (std::isnan(value)) continue;
      if (!low || value < outcomes_[*low].values[reading]) low = i;
      if (!high || value > outcomes_[*high].values[reading]) high = i;
    }
    if (low) result.low = extreme(reading, *low);
    if (high) result.high = extreme(reading, *high);
    return result;
  }

  // What makes no difference by itself is nominal there, if the value stays.
  Extreme extreme(std::size_t reading, std::size_t at) const {
    Extreme result{outcomes_[at].values[reading], cases_[at]};
    Positions fewer = cases_[at];
    for (std::size_t i = 0; i < count_; ++i) {
      const double low = outcomes_[2 * i].values[reading];
      const double high = outcomes_[2 * i + 1].values[reading];
      const double nominal = runner_.nominal().values[reading];
      if (same(low, nominal) && same(high, nominal)) fewer[i] = 0;
    }
    const auto stays = [&](const Positions& at) { return same(outcome(at).values[reading], result.value); };
    if (fewer == result.at) return result;
    if (stays(fewer)) {
      result.at = std::move(fewer);
    } else {
      narrow(result.at, stays);
    }
    return result;
  }

  // Sets as much to nominal as `stays` allows, one after another.
  template <class Condition>
  void narrow(Positions& at, const Condition& stays) const {
    if (count_ > kMostNarrowed) return;
    for (std::size_t i = 0; i < count_; ++i) {
      if (at[i] == 0) continue;
      Positions fewer = at;
      fewer[i] = 0;
      if (stays(fewer)) at = std::move(fewer);
    }
  }

  void find_failures() {
    using What = CornerFailure::What;
    const Outcome& nominal = runner_.nominal();
    for (std::size_t i = 0; i < nominal.trips.size(); ++i) add_failure({What::Trip, i, 0, {}});
    const std::vector<Reading>& readings = runner_.ledger().readings();
    for (std::size_t i = 0; i < readings.size(); ++i) {
      if (readings[i].subject == Subject::Rule) add_failure({What::Rule, i, 0, {}});
      if (readings[i].subject == Subject::Expectation) add_failure({What::Expectation, i, 0, {}});
    }
    add_failure({What::Wait, 0, 0, {}});
    add_failure({What::GivenUp, 0, 0, {}});
  }

  void add_failure(CornerFailure failure) {
    if (shows(failure, runner_.nominal())) return;
    for (std::size_t i = outcomes_.size(); i-- > 0;) {
      if (!shows(failure, outcomes_[i])) continue;
      failure.corners += i >= singles_;
      failure.at = cases_[i];
    }
    if (!failure.at.empty()) result_.failures.push_back(std::move(failure));
  }

  void narrow(CornerFailure& failure) const {
    narrow(failure.at, [&](const Positions& at) { return shows(failure, outcome(at)); });
  }

  const Runner& runner_;
  const Job& job_;
  std::size_t count_;
  std::vector<Positions> cases_;  // single ends, then corners
  std::size_t singles_ = 0;
  std::vector<Outcome> outcomes_;
  mutable std::mutex mutex_;
  mutable std::map<Positions, Outcome> known_;
  Corners result_;
};

}  // namespace

bool shows(const CornerFailure& failure, const Outcome& outcome) {
  switch (failure.what) {
    case CornerFailure::What::Trip:
      return outcome.unasked[failure.index];
    case CornerFailure::What::Wait:
      return outcome.timed_out;
    case CornerFailure::What::GivenUp:
      return outcome.given_up;
    default:
      return outcome.fails[failure.index];
  }
}

CornerCases corner_cases(std::size_t tolerances) {
  CornerCases result;
  result.cases = single_ends(tolerances);
  result.singles = result.cases.size();
  result.all = tolerances < 64 && (std::size_t{1} << tolerances) <= kMostCorners;
  const std::vector<Positions> corners = result.all ? every_corner(tolerances) : some_corners(tolerances);
  result.cases.insert(result.cases.end(), corners.begin(), corners.end());
  return result;
}

Corners try_corners(const Runner& runner, const Job& job) {
  return Search(runner, job).run();
}

Results corners_part(const Runner& runner, const Part& part, const Job& job) {
  return runner.run_part(corner_cases(runner.tolerances().size()).cases, kCorner, part, job);
}

}  // namespace rampart::spread
