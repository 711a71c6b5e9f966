#pragma once

#include <optional>
#include <vector>

#include "compiler/profile/profile.h"
#include "runtime/play/form_curve.h"

namespace rampart {

// Finds when a condition on simulated quantities becomes true: voltages at the load, currents and powers at the
// terminals.
class ConditionWatch {
 public:
  explicit ConditionWatch(const Condition& condition) : condition_(&condition) {}

  // The first time from 0 to 1 over the planned pieces, which all have one length, at which the condition holds.
  [[nodiscard]] std::optional<double> first_true(const std::vector<RailSignals>& rails) const;

 private:
  const Condition* condition_;
};

}  // namespace rampart
