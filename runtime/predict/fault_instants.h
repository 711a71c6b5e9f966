#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "compiler/timeline/timeline.h"
#include "runtime/answer/simulation.h"

namespace rampart {

enum class InstantKind : std::uint8_t { Mark, RampUp, RampDown, LimitRamp, Dwell, Pulse, Together, Await, Statement };

// "ramp up": what the statement is; empty for a mark.
[[nodiscard]] std::string_view instant_kind_name(InstantKind kind);

// An instant of a run at which faults are tried.
struct FaultInstant {
  Instant at;
  std::string mark;  // empty: the middle of a statement
  InstantKind kind{};
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
