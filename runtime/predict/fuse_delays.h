#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/table/table.h"
#include "runtime/answer/simulation.h"

namespace rampart {

// Between which delays a rail's fuse does its work, each on the steps that its channel can be set to, in s.
struct FuseDelays {
  RailId rail{};
  double spell_s = 0;                // the longest that its condition holds in the run, if nothing cuts it short
  std::optional<double> shortest_s;  // that does not trip in the run; none where the channel has no delay that long
  // With which it still acts first: in an overload at the highest setpoint and limit before overpower does, in a dead
  // short at that limit before the hottest output stage of the run reaches its temperature limit. None where neither
  // would ever act.
  std::optional<double> longest_s;
  std::optional<TripCause> longest_by;  // what acts first with a longer delay
};

// The most that the setpoints of a rail ask for while it is on.
struct Overload {
  double limit_A = 0;
  double power_W = 0;  // setpoint times limit
};

// For each rail with a fuse; `overloads` by rail. `without`: see unprotected(), the plain run itself where nothing
// tripped.
[[nodiscard]] std::vector<FuseDelays> fuse_delays(const Table& table, const Simulation& plain,
                                                  const Simulation& without, const std::vector<Overload>& overloads);

[[nodiscard]] const FuseDelays* find_delays(const std::vector<FuseDelays>& delays, RailId rail);

// The shortest delay that does not trip, and the longest of those with which the fuse acts first: "20 ms", "any",
// "none".
[[nodiscard]] std::string minimum_text(const FuseDelays& delays);
[[nodiscard]] std::string maximum_text(const FuseDelays& delays);

// What acts first above the longest delay, or why nothing does.
[[nodiscard]] std::string longest_by_text(const FuseDelays& delays);

// What to write, for a hint.
[[nodiscard]] std::string delay_advice(const FuseDelays& delays);

}  // namespace rampart
