#pragma once

#include <optional>

#include "runtime/answer/shortfalls.h"
#include "runtime/circuit/circuit.h"
#include "runtime/rail/protection.h"
#include "runtime/rail/settling.h"

namespace rampart {

// Where remote sense runs out of headroom. What is short while a capacitor charges is no lack of it: only what is left
// at the end of such a stretch counts.
class HeadroomWatch {
 public:
  explicit HeadroomWatch(std::optional<double> headroom) : headroom_(headroom) {}

  // The circuit goes through its planned piece.
  void advance(const circuit::Circuit& circuit, const Instant& from, const Doing& doing);
  // The stretch, if there is one, ends: it counts if the load was left below what counts as the setpoint.
  void end(const Settling& settling);
  // Goes on as another would, `by` later; the worst is its own.
  void continue_as(const HeadroomWatch& other, const Instant& by, const PassShift& passes);
  [[nodiscard]] const std::optional<HeadroomSpent>& worst() const { return worst_; }

 private:
  std::optional<double> headroom_;    // V
  std::optional<HeadroomSpent> now_;  // at the end of the last piece
  std::optional<HeadroomSpent> worst_;
};

}  // namespace rampart
