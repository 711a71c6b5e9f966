#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/table.h"

namespace rampart {

// What the channels behind a rail can do together. Series: voltages add. Parallel: currents add.
struct Abilities {
  std::string name;  // of the channel or combination
  std::vector<const Channel*> members;
  bool series = false;
  bool parallel = false;
  Placed<Range<Volts>> voltage;
  Placed<Range<Amps>> current;
  Volts voltage_resolution;  // what every setpoint is a multiple of
  Amps current_resolution;
  std::optional<Placed<Watts>> power;
  std::optional<Slew> slew;
  Timing timing;  // the coarsest minimum step and resolution of the members

  // What a member takes of the rail's power: in series as its range of voltage, in parallel as that of current.
  [[nodiscard]] Rational share_of(const Channel& member) const;
};

[[nodiscard]] Abilities abilities_of(const Table& table, RailId rail);

}  // namespace rampart
