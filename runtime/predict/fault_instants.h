#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "compiler/timeline/timeline.h"
#include "runtime/answer/simulation.h"

namespace rampart {

// An instant of a run at which faults are tried.
struct FaultInstant {
  Instant at;
  std::string mark;  // empty: the middle of a statement
  std::string kind;  // of the statement: "ramp up", "ramp down", "dwell", ...
  Span statement;
};

struct FaultInstants {
  std::vector<FaultInstant> instants;  // by time
  std::int64_t left_out = 0;           // beyond kMaxFaultInstants
};

inline constexpr std::size_t kMaxFaultInstants = 100;

// Each mark where it is first reached, and the middle of the first statement of each kind that takes time. `plain` is
// the run without faults; what it does not reach is left out.
[[nodiscard]] FaultInstants fault_instants(const Timeline& timeline, const Simulation& plain);

}  // namespace rampart
