#pragma once

#include "compiler/rules/rules.h"
#include "lang/findings/finding.h"

namespace rampart {

// Reports each rule that is broken, or that says nothing about this run, once: on the setpoints, or where these are
// fine, in the simulation. Without a load `simulated` is null.
void report_rules(const Profile& profile, const std::vector<RuleResult>& setpoints,
                  const std::vector<RuleResult>* simulated, FindingSink& findings);
// Reports each rule that is broken on the setpoints.
void report_broken_rules(const Profile& profile, const std::vector<RuleResult>& setpoints, FindingSink& findings);

}  // namespace rampart
