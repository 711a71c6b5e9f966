#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/bench/shares.h"
#include "compiler/table/table.h"

namespace rampart {

// What the channels behind a rail can do together. The table outlives it. Series: voltages add. Parallel: currents add.
// A combination can be set to what leaves the share of each member within its own range, and gives power until the
// first of them has given all it can.
struct Abilities {
  std::string name;  // of the channel or combination
  std::vector<const Channel*> members;
  bool series = false;
  bool parallel = false;
  Placed<Range<Volts>> voltage;
  Placed<Range<Amps>> current;
  const Shares& shares;
  std::optional<Placed<Watts>> power;
  std::optional<Slew> slew;
  Timing timing;  // the coarsest minimum step and resolution of the members

  // What one of `members` takes of the rail's voltage.
  [[nodiscard]] Rational share_of_voltage(const Channel& member) const;
};

[[nodiscard]] Abilities abilities_of(const Table& table, RailId rail);
// Of each rail, in the order of the profile.
[[nodiscard]] std::vector<Abilities> abilities_of(const Table& table);

}  // namespace rampart
