#pragma once

#include <memory>
#include <vector>

#include "runtime/rail_run.h"

namespace rampart {

// Raises the peak of the power of all rails together by what their planned pieces, all `length` s long and beginning at
// `from`, bring.
void raise_total_power(Peak& peak, const std::vector<std::unique_ptr<RailRun>>& rails, const Instant& from,
                       double length, const Passes& passes);

}  // namespace rampart
