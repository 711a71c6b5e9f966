#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "compiler/table/table.h"
#include "lang/values/instant.h"
#include "runtime/rail/rail_run.h"

namespace rampart {

// After how many passes at most the pulses of loads may stand as before.
inline constexpr std::int64_t kMaxPhaseUnits = 100'000;

// The time after which the pulses of all loads together do the same again. None without pulses that are followed,
// or where it is no whole number of ns.
[[nodiscard]] std::optional<Nanoseconds> common_period(const std::vector<std::unique_ptr<RailRun>>& rails);

// The fewest stretches of `length` that are whole periods together; 1 where there are none up to kMaxPhaseUnits.
[[nodiscard]] std::int64_t phase_units(std::optional<Nanoseconds> period, const Instant& length);

// How many passes of a loop are still to be gone through at least, after one has ended, because no two are alike: they
// begin at other phases of the time grid, or of the loads' pulses.
[[nodiscard]] std::int64_t unlike_passes(const PassEnded& pass, std::optional<Nanoseconds> period);

}  // namespace rampart
