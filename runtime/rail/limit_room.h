#pragma once

#include <optional>

#include "lang/values/instant.h"
#include "runtime/circuit/circuit.h"
#include "runtime/rail/protection.h"

namespace rampart {

// The smallest distance of the regulator's current to its limit while the output is on: nothing from where it first
// enters constant current.
class LimitRoom {
 public:
  struct Least {
    double room_A = 0;
    double limit_A = 0;
    Peak at;
  };

  // The circuit goes through its planned piece.
  void advance(const circuit::Circuit& circuit, const Instant& from, const Doing& doing);
  // None if it was never on.
  [[nodiscard]] const std::optional<Least>& least() const { return least_; }

 private:
  std::optional<Least> least_;
  bool reached_ = false;
};

}  // namespace rampart
