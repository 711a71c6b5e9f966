#pragma once

#include <vector>

#include "runtime/predict/headline.h"

namespace rampart {

// All margins of the run that compete, the tightest first; in corners each is the tightest of them.
[[nodiscard]] std::vector<TightMargin> tight_margins(const Answer& answer, const Simulation& simulation);

// The limits that were reached by rails that did not trip, of those that may be for a time: current limits, and
// overpower thresholds of protections that wait. Not those among `tightest`, which are told there.
[[nodiscard]] std::vector<HeadlineLine> reached_limits(const Answer& answer, const Simulation& simulation,
                                                       const std::vector<TightMargin>& tightest);

}  // namespace rampart
