#pragma once

#include <vector>

#include "compiler/timeline/timeline.h"

namespace rampart {

// An exact instant of one rail: a ramp starts or ends, or something jumps. Between two instants voltage and limit run
// straight from `after` of the first to `before` of the second.
struct RailInstant {
  Nanoseconds time{0};  // from the start of the segment
  Rational voltage_before;
  Rational limit_before;
  KnownSetpoints known_before;
  RailState after;
  const Statement* statement = nullptr;
  bool switches = false;  // the output, or what is known

  [[nodiscard]] bool jumps() const { return voltage_before != after.voltage || limit_before != after.limit; }
};

// The instants of one rail within one block, in order; those at which nothing changes are left out, so that a statement
// without effect cuts no ramp and makes no point. `moves` are the rail's own moves in the order they start;
// `state` is where the rail stands before the block, and where it stands after it on return.
void find_instants(const std::vector<const Move*>& moves, Nanoseconds block_start, RailState& state,
                   std::vector<RailInstant>& instants);

}  // namespace rampart
