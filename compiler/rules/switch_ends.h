#pragma once

#include <vector>

#include "compiler/bench/switch_delay.h"
#include "compiler/rules/rules.h"

namespace rampart::rules {

// Beyond so many supplies with a spread in one rule, not every combination of their ends is tried.
inline constexpr std::size_t kMostSuppliesAtEnds = 3;

// The ends of switch delays at which the rules of this side are to be judged, besides the middle: of the supplies that
// a rule speaks of every combination, and none that is part of another. Where those are more than kMostSuppliesAtEnds:
// all at one end, each by itself at an end, and those of each of its conditions against the others.
[[nodiscard]] std::vector<SwitchPositions> switch_ends(const Table& table, RuleSide side);

// Whether a rule's result with the switches elsewhere takes the place of another.
[[nodiscard]] bool is_worse(const RuleResult& other, const RuleResult& result);

// Each rule gets the worse of its results; `others` are of the same rules, with the switches at `positions`. What is
// nominal stays as it is.
void keep_worse(std::vector<RuleResult>& results, const std::vector<RuleResult>& others,
                const SwitchPositions& positions);

}  // namespace rampart::rules
