#pragma once

#include <vector>

#include "compiler/bench/switch_delay.h"
#include "compiler/rules/rules.h"

namespace rampart::rules {

// Judges the rules on setpoints with the switches of the outputs at these places of their ranges, and with or without
// the errors of the channels.
[[nodiscard]] std::vector<RuleResult> judge_at(const Table& run, const SwitchPositions& positions, bool with_errors);

}  // namespace rampart::rules
