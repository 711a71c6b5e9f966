#include "runtime/sweep/best_value.h"

#include <algorithm>
#include <iterator>
#include <optional>
#include <vector>

namespace rampart::sweep {
namespace {

// Values at which all corners are gone through at first to say which comes nearest.
constexpr std::size_t kWeighed = 21;

// So many of a list at even distances, the first and the last among them.
template <class T>
std::vector<T> spread_out(const std::vector<T>& list, std::size_t most) {
  if (list.size() <= most) return list;
  std::vector<T> some;
  for (std::size_t i = 0; i < most; ++i) some.push_back(list[i * (list.size() - 1) / (most - 1)]);
  return some;
}

}  // namespace

bool BestSearch::is_usable(std::int64_t index, const Trial& trial) const {
  return trial.holds() && !scan_.setting_at(index).empty();
}

double BestSearch::badness(std::int64_t index, const Trial& trial) const {
  switch (goal_) {
    case Goal::LeastValue:
      return static_cast<double>(index);
    case Goal::GreatestValue:
      return -static_cast<double>(index);
    case Goal::LeastDuration:
      return trial.duration_s;
    case Goal::LeastEnergy:
      return trial.energy_J;
  }
  return 0;
}

// In rising order. Where nothing more than a plain run is asked for, all that was tried.
std::vector<std::int64_t> BestSearch::first_values() const {
  std::vector<std::int64_t> values;
  const std::vector<std::int64_t> even = spread_out(scan_.scanned(), static_cast<std::size_t>(kCornersScanned));
  const auto& trials = scan_.trials();
  for (auto at = trials.begin(); at != trials.end(); ++at) {
    if (!is_usable(at->first, at->second)) continue;
    const bool begins = at != trials.begin() && !std::prev(at)->second.holds();
    const bool ends = std::next(at) != trials.end() && !std::next(at)->second.holds();
    if (!asks_more() || begins || ends || std::binary_search(even.begin(), even.end(), at->first)) {
      values.push_back(at->first);
    }
  }
  return values;
}

bool BestSearch::stands(std::int64_t index) {
  const bool is_good =
      is_usable(index, scan_.try_one(index, job_)) && (!asks_more() || scan_.meets(index, demand_, job_));
  return known_[index] = is_good;
}

void BestSearch::judge(std::size_t first_gap, std::size_t end_gap) {
  if (!asks_more() || first_gap == end_gap) return;
  const std::vector<std::int64_t>& scanned = scan_.scanned();
  const std::int64_t low = scanned[first_gap];
  const std::int64_t high = scanned[std::min(end_gap, scanned.size() - 1)];
  for (const std::int64_t index : first_values()) {
    if (low <= index && index <= high) static_cast<void>(stands(index));
  }
}

std::optional<std::int64_t> BestSearch::find() {
  for (const auto& [index, trial] : scan_.trials()) {
    if (!asks_more() || !is_usable(index, trial)) known_[index] = is_usable(index, trial);
  }
  std::vector<std::int64_t> order = first_values();
  std::stable_sort(order.begin(), order.end(), [&](std::int64_t a, std::int64_t b) {
    return badness(a, scan_.trials().at(a)) < badness(b, scan_.trials().at(b));
  });
  const auto found = std::find_if(order.begin(), order.end(), [&](std::int64_t index) { return stands(index); });
  if (found == order.end()) return std::nullopt;
  std::int64_t best = *found;
  while (const std::optional<std::int64_t> between = next_to(best)) {
    if (scan_.trials().size() >= kMostTrials) break;
    const Trial& trial = scan_.try_one(*between, job_);
    const double is = badness(*between, trial);
    const double least = badness(best, scan_.trials().at(best));
    const bool may_be_better = is < least || (is == least && *between < best);
    if (!may_be_better) {
      known_[*between] = false;
    } else if (stands(*between)) {
      best = *between;
    }
  }
  return best;
}

std::optional<std::int64_t> BestSearch::next_to(std::int64_t best) const {
  const auto at = known_.find(best);
  if (goal_ != Goal::GreatestValue && at != known_.begin()) {
    const std::int64_t before = std::prev(at)->first;
    if (best - before > 1) return before + (best - before) / 2;
  }
  if (goal_ != Goal::LeastValue && std::next(at) != known_.end()) {
    const std::int64_t after = std::next(at)->first;
    if (after - best > 1) return best + (after - best) / 2;
  }
  return std::nullopt;
}

Weighed BestSearch::nearest() {
  const auto& trials = scan_.trials();
  std::vector<std::int64_t> holding;
  for (const auto& [index, trial] : trials) {
    if (trial.holds()) holding.push_back(index);
  }
  if (holding.empty()) {
    const auto least = std::min_element(trials.begin(), trials.end(),
                                        [](const auto& a, const auto& b) { return is_less_bad(a.second, b.second); });
    return scan_.weighed(least->first, demand_, job_);
  }
  std::size_t place = 0;
  std::optional<Weighed> best;
  const auto weigh = [&](std::size_t at) {
    Weighed weighed = scan_.weighed(holding[at], demand_, job_);
    if (best && !comes_nearer(weighed, *best)) return;
    best = std::move(weighed);
    place = at;
  };
  const std::size_t last = holding.size() - 1;
  const std::size_t parts = std::min(last, kWeighed - 1);
  for (std::size_t i = 0; i <= parts; ++i) weigh(parts == 0 ? 0 : i * last / parts);
  for (std::size_t step = parts == 0 ? 1 : (last + parts - 1) / parts; step > 1;) {
    step = (step + 1) / 2;
    const std::size_t middle = place;
    if (middle >= step) weigh(middle - step);
    if (middle + step <= last) weigh(middle + step);
  }
  return *best;
}

}  // namespace rampart::sweep
