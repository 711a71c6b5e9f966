#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/table/table.h"
#include "runtime/answer/simulation.h"
#include "runtime/predict/fuse_delays.h"

namespace rampart {

// What the overpower protection of a rail that it trips would have to stand for not to trip.
struct OverpowerRoom {
  RailId rail{};
  double drawn_W = 0;             // the most that the output gives in the run, were there no such protection
  double most_W = 0;              // setpoint times limit: with that as its threshold the protection never acts
  bool can_wait = false;          // all channels have a delay for it
  bool waits = false;             // the profile sets one
  std::optional<double> delay_s;  // the shortest that does not trip at the threshold that is set, where one is set;
                                  // none where the channel has no delay that long
  bool trips_fuse = false;        // the fuse would trip the rail if this protection did not
};

// For each rail that its overpower protection trips; `overloads` by rail. `without`: see unprotected().
[[nodiscard]] std::vector<OverpowerRoom> overpower_rooms(const Table& table, const Simulation& plain,
                                                         const Simulation& without,
                                                         const std::vector<Overload>& overloads);

// What to write, for a hint.
[[nodiscard]] std::string overpower_advice(const OverpowerRoom& room, const std::string& rail);

}  // namespace rampart
