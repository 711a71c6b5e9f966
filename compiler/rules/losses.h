#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/rules/rules.h"

namespace rampart::rules {

// What may take a part of a rule's margin, and how much of it in the rule's unit; none where it has no measure.
struct Loss {
  std::string what;
  std::optional<double> amount;
};

// Those that take something of a rule that holds as written and is broken by what the bench allows.
[[nodiscard]] std::vector<Loss> losses_of(const Table& table, const RuleResult& result);
// "switching may take 9 ms and accuracy 8.3 mV".
[[nodiscard]] std::string losses_text(const std::vector<Loss>& losses, const std::string& unit);
// ", where `left` switches on after 20 ms": of the supplies whose end matters to the rule. Empty in the middle.
[[nodiscard]] std::string switches_text(const Table& table, const RuleResult& result);

}  // namespace rampart::rules
