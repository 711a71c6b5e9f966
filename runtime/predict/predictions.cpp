#include "runtime/predict/predictions.h"

#include <utility>

namespace rampart {

const Simulation* Predictions::shown() const {
  if (asserts) return asserted ? &*asserted : nullptr;
  return shown_fault();
}

const Simulation* Predictions::shown_fault() const {
  if (!fault) return simulation ? &*simulation : nullptr;
  for (const FaultRun& run : fault_runs) {
    if (run.fault == *fault) return &run.simulation;
  }
  return nullptr;
}

std::vector<ExpectationResult> Predictions::expectations(const Profile& profile) const {
  std::vector<ExpectationResult> results;
  if (asserts) return results;
  if (!fault && simulation) results = judge_expectations(profile, *simulation);
  for (const FaultRun& run : fault_runs) {
    if (fault && run.fault != *fault) continue;
    for (ExpectationResult& result : judge_expectations(profile, run.simulation, run.fault)) {
      results.push_back(std::move(result));
    }
  }
  return results;
}

}  // namespace rampart
