#pragma once

#include <string>
#include <vector>

#include "runtime/as_run/answer.h"
#include "runtime/as_run/located_run.h"

namespace rampart::as_run {

// When the output of a rail is on in the run, s: its current is expected to be read then.
struct OnTime {
  double from = 0;
  double to = 0;
};

// What the verdicts are of.
struct Judgement {
  const Profile& profile;
  const LocatedRun& run;
  const std::vector<OnTime>& on_times;         // by rail
  double max_late_s = 0;                       // a row that is later is not what was reviewed
  const std::vector<std::string>& mismatches;  // what records say against logs and profile: told already
};

// What of the run the logs have no readings of; empty: nothing is missing.
[[nodiscard]] std::string missing_of(const Profile& profile, const LocatedRun& run, const std::vector<OnTime>& on_times,
                                     const AsRun& answer);

// Both verdicts with their reasons, and what is to be told of excursions, commands, gaps, calibrations and results.
// Needs all else of the answer.
void decide(const Judgement& judgement, AsRun& answer, FindingSink& findings);

}  // namespace rampart::as_run
