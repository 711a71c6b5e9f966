#pragma once

#include <optional>

#include "lang/job/job.h"
#include "runtime/answer/simulation.h"
#include "runtime/scenario/simulator.h"

namespace rampart {

// The run once more as if neither fuses nor overpower protection acted, where one of them has tripped a rail: how long
// their conditions hold then. Without such a trip the plain run says that. Throws JobStopped.
[[nodiscard]] std::optional<Simulation> unprotected(const Simulator& simulator, const Simulation& plain,
                                                    const Job& job = {});

}  // namespace rampart
