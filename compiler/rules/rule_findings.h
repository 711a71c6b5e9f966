#pragma once

#include <string>

#include "compiler/rules/rules.h"
#include "lang/findings/finding.h"

namespace rampart {

// Why a rule is broken whose distance has no measure: "a voltage jumps", "the condition does not become true before the
// run ends: `core` reaches at most 4.975 V".
[[nodiscard]] std::string why_broken_outright(const Table& run, const RuleResult& result);

// Reports each rule that is broken on the setpoints.
void report_broken_rules(const Table& run, const std::vector<RuleResult>& setpoints, FindingSink& findings);
// Reports of the others each one that is broken in the simulation, or that says nothing about this run. Without a load
// `simulated` is null.
void report_rules(const Table& run, const std::vector<RuleResult>& setpoints, const std::vector<RuleResult>* simulated,
                  FindingSink& findings);

}  // namespace rampart
