#pragma once

#include <optional>
#include <vector>

#include "compiler/bench/switch_delay.h"
#include "lang/values/instant.h"
#include "runtime/play/simulate.h"

namespace rampart {

// One position for each of a simulator's tolerances: -1 at its low end, 0 nominal, 1 at its high end.
using Positions = std::vector<double>;

// What one run has that another of the same profile and load has not. By default there is no incident, and all values
// are those of bench and load.
struct Scenario {
  std::optional<Injection> fault;
  std::optional<Assertion> assertion;
  // None: values are nominal, and rules keep back what accuracy may take. Else what is off is off for certain, and
  // rules keep nothing back.
  std::optional<Positions> at;
  // Of each supply, where in its range its switch delay is; empty: as `at` says, or in the middle.
  SwitchPositions switches;
  // How long the first waits last, whatever they wait for, in the order in which the run comes to them; those beyond
  // last as the profile says.
  std::vector<Nanoseconds> waits;
  std::optional<CutOff> cut_off{};
  std::vector<Commanded> commanded{};  // by time
  bool fuses_act = true;
  bool overpower_acts = true;
  RulesAsked rules = RulesAsked::All;
};

}  // namespace rampart
