#pragma once

#include "compiler/profile.h"
#include "lang/finding.h"
#include "runtime/simulation.h"

namespace rampart {

// Reports what the simulation says will go wrong at the bench: trips that nobody asked for, phases in constant current,
// rails that end charged, expectations that fail.
void report_predictions(const Profile& profile, const Simulation& simulation, FindingSink& findings);

}  // namespace rampart
