#pragma once

#include <cstdint>
#include <optional>

#include "runtime/sweep/parameter_scan.h"

namespace rampart::sweep {

// The place on the grid of the least or greatest value that holds and that a setting can give, among those that were
// tried. None where there is none.
[[nodiscard]] std::optional<std::int64_t> extreme_value(const ParameterScan& scan, bool greatest);

// The same for the value with which the run is shortest; of several the least. Between values that were tried the
// duration is taken to change one way; what surrounds the best one is tried down to the step.
[[nodiscard]] std::optional<std::int64_t> shortest_run(ParameterScan& scan, const Job& job);

}  // namespace rampart::sweep
