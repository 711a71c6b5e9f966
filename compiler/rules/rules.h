#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/bench/switch_delay.h"
#include "compiler/profile/profile.h"
#include "compiler/table/table.h"
#include "lang/values/instant.h"

// Rules are quantitative: each holds or not, and by how much. The margin is the robustness of A. Donzé and O. Maler,
// "Robust satisfaction of temporal logic over real-valued signals", FORMATS 2010, for the forms of the language.
namespace rampart {

enum class RuleSide : std::uint8_t { Setpoints, Simulated };
[[nodiscard]] std::string_view rule_side_name(RuleSide side);

struct RuleResult {
  std::size_t rule = 0;  // its place in the profile
  RuleSide side{};
  bool holds = true;
  bool exercised = false;
  bool holds_as_written = true;   // what accuracy, stairs, skew and switch delays can take away left out of account
  std::optional<double> nominal;  // the signed distance; none where it is unbounded or has no measure
  std::optional<double> margin;   // less what they can take away
  std::string unit;               // SI, of both
  // Where in their ranges the switch delays of the supplies are where the margin is least, and the signed distance as
  // written with them there; empty: all in the middle.
  SwitchPositions switches;
  std::optional<double> nominal_there;
  // Of each condition of the rule, in the order of the text: its greatest signed distance, where it is never met.
  std::vector<std::optional<double>> nearest;
  // Where the margin is least; 0 and empty where the rule is not exercised.
  double time_s = 0;
  Span statement;
  CallId call = kNoCall;
  Passes passes;
};

// Judges the rules on the exact setpoints of a run, 0 V until an output's switch has closed: as written with its delay
// in the middle of its range, and at the ends of that. Loops are walked until the setpoints and what the rules remember
// repeat. Rules on currents and powers are left out: setpoints do not tell them.
[[nodiscard]] std::vector<RuleResult> judge_rules(const Table& run);

}  // namespace rampart
