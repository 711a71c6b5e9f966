#pragma once

#include "compiler/rules/rules.h"
#include "lang/finding.h"
#include "runtime/simulation.h"

namespace rampart {

// Reports each rule that is broken, or that says nothing about this run, once: on the setpoints, or where these are
// fine, in the simulation. Without a load `simulation` is null.
void report_rules(const Profile& profile, const std::vector<RuleResult>& setpoints, const Simulation* simulation,
                  FindingSink& findings);

}  // namespace rampart
