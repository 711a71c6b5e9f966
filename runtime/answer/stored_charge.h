#pragma once

#include "runtime/load/load.h"
#include "runtime/load/output_traits.h"

namespace rampart {

// What a rail holds at one instant, as the circuit that it discharges through: what draws by a clock or a temperature
// of its own is left out, so that nothing is counted on that may stop.
struct StoredCharge {
  RailLoad load;
  RailTerminals output;
  double output_voltage = 0;  // at the terminals
};

}  // namespace rampart
