#pragma once

#include "lang/finding.h"
#include "runtime/simulation.h"

namespace rampart {

// Reports what rails fell short of: not-settled, cannot-sink, residual-at-on, sense-headroom, left-charged. Charge that
// is there at the end, or at the next `on`, is told once, by the last of these that meets it.
void report_shortfalls(const Profile& profile, const Load& load, const Simulation& simulation, FindingSink& findings);

}  // namespace rampart
