#pragma once

#include "compiler/profile/profile.h"
#include "lang/findings/finding.h"
#include "runtime/answer/simulation.h"

namespace rampart {

// Reports readings that begin before a rail has come to its setpoint: of each statement and rail the worst.
void report_readings(const Profile& profile, const Simulation& simulation, FindingSink& findings);

}  // namespace rampart
