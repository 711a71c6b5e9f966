#include "runtime/sweep/best_value.h"

#include <iterator>

namespace rampart::sweep {
namespace {

bool is_usable(const ParameterScan& scan, std::int64_t index, const Trial& trial) {
  return trial.holds() && !scan.setting_at(index).empty();
}

}  // namespace

std::optional<std::int64_t> extreme_value(const ParameterScan& scan, bool greatest) {
  std::optional<std::int64_t> best;
  for (const auto& [index, trial] : scan.trials()) {
    if (!is_usable(scan, index, trial)) continue;
    best = index;
    if (!greatest) break;
  }
  return best;
}

std::optional<std::int64_t> shortest_run(ParameterScan& scan, const Job& job) {
  for (;;) {
    std::optional<std::int64_t> best;
    for (const auto& [index, trial] : scan.trials()) {
      if (is_usable(scan, index, trial) && (!best || trial.duration_s < scan.trials().at(*best).duration_s))
        best = index;
    }
    if (!best) return std::nullopt;
    const auto at = scan.trials().find(*best);
    std::optional<std::int64_t> between;
    if (at != scan.trials().begin() && *best - std::prev(at)->first > 1) {
      between = std::prev(at)->first + (*best - std::prev(at)->first) / 2;
    } else if (std::next(at) != scan.trials().end() && std::next(at)->first - *best > 1) {
      between = *best + (std::next(at)->first - *best) / 2;
    }
    if (!between || scan.trials().size() >= kMostTrials) return best;
    static_cast<void>(scan.try_one(*between, job));
  }
}

}  // namespace rampart::sweep
