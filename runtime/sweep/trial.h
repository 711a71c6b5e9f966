#pragma once

#include <string>

#include "runtime/sweep/sweep.h"

namespace rampart::sweep {

// Carries out trials of one profile, on any thread.
class Trials {
 public:
  // Of what they were made from; both outlive the trials.
  Trials(const Compiled& compiled, const LoadPtr& load) : compiled_(compiled), load_(load) {}

  // With the parameter held at a value in its range. Throws JobStopped.
  [[nodiscard]] Trial at(const std::string& parameter, const Quantity& value, const Job& job) const;

 private:
  const Compiled& compiled_;
  const LoadPtr& load_;
};

// What an answer comes to, as a trial of `value`.
[[nodiscard]] Trial trial_of(const Compiled& compiled, const Predictions& predictions, const FindingSink& findings,
                             const Quantity& value);

}  // namespace rampart::sweep
