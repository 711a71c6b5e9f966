#pragma once

#include "lang/findings/finding.h"
#include "runtime/answer/simulation.h"
#include "runtime/predict/fuse_delays.h"

namespace rampart {

// Reports margins that are gone where nothing else tells so (power-envelope, total-power), and those that are nearly
// gone (thin-margin). Hints say which delays of a fuse would do.
void report_margins(const Profile& profile, const Simulation& simulation, FindingSink& findings,
                    const std::vector<FuseDelays>& delays);

}  // namespace rampart
