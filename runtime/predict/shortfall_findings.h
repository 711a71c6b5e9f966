#pragma once

#include <string>

#include "lang/findings/finding.h"
#include "runtime/answer/simulation.h"

namespace rampart {

// Reports what rails fell short of: not-settled, cannot-sink, residual-at-on, sense-headroom, left-charged. Charge that
// is there at the end, or at the next `on`, is told once, by the last of these that meets it.
void report_shortfalls(const Profile& profile, const Load& load, const Simulation& simulation, FindingSink& findings);

// Reports rails that are left charged in a run with an incident; `in_run` says which: " under `shorted`". What the
// plain run leaves charged too has been told.
void report_left_charged(const Profile& profile, const Load& load, const Simulation& simulation,
                         const Simulation& plain, const std::string& in_run, FindingSink& findings);

}  // namespace rampart
