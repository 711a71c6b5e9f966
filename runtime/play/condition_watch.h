#pragma once

#include <optional>
#include <vector>

#include "compiler/profile/profile.h"
#include "runtime/answer/simulation.h"
#include "runtime/play/form_curve.h"

namespace rampart {

// Finds when a condition on simulated quantities becomes true: voltages at the load, currents and powers at the
// terminals.
class ConditionWatch {
 public:
  explicit ConditionWatch(const Condition& condition);

  // The first time from 0 to 1 over the planned pieces, which all have one length, at which the condition holds.
  [[nodiscard]] std::optional<double> first_true(const std::vector<RailSignals>& rails) const;
  // Notes how near each comparison comes to being true in the planned pieces, which begin at `start_s` and last
  // `length_s`.
  void follow(const std::vector<RailSignals>& rails, double start_s, double length_s);
  // By comparison, in the order of the text.
  [[nodiscard]] const std::vector<Approach>& nearest() const { return nearest_; }

 private:
  const Condition* condition_;
  std::vector<Approach> nearest_;
};

}  // namespace rampart
