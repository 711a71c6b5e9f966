#pragma once

#include <optional>

#include "compiler/table/table.h"

namespace rampart {

// What stands between a rail's setpoints and its terminals: one channel, or the members of a combination as one.
//
// In series voltages and off resistances add and the least current is what all can take; in parallel currents and
// capacitances add. How fast they move is the matter of SlewedVoltage.
struct RailTerminals {
  double sink = 0;                       // A
  std::optional<double> headroom;        // V, with remote sense
  double capacitance = 0;                // F
  std::optional<double> off_resistance;  // Ohm
};

[[nodiscard]] RailTerminals output_of(const Table& table, const RailSetup& setup);

}  // namespace rampart
