#pragma once

#include <cstdint>

#include "compiler/table/rail_motion.h"
#include "compiler/table/rail_output.h"

// How a `hold` supply plays the way between two instants of a rail: in equal stairs, each at the value of its start.
namespace rampart {

// Into how many stairs the way is cut: as many as minimum steps fit into it, and no more than the largest change of a
// channel has counts. 0 or 1 where it is one step, at its end.
[[nodiscard]] std::int64_t stair_count(const RailOutput& output, const RailInstant& from, const RailInstant& to);

// What stair `stair` of `stairs`, counted from 0, holds.
[[nodiscard]] RailState on_stair(const RailInstant& from, const RailInstant& to, std::int64_t stair,
                                 std::int64_t stairs);

}  // namespace rampart
