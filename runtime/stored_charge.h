#pragma once

#include "runtime/load.h"
#include "runtime/output_traits.h"

namespace rampart {

namespace circuit {
class Circuit;
}

// What a rail holds at one instant, as the circuit that it discharges through: what draws by a clock or a temperature
// of its own is left out, so that nothing is counted on that may stop.
struct StoredCharge {
  RailLoad load;
  RailOutput output;
  double output_voltage = 0;  // at the terminals
};

// Of a rail with that load, or with none.
[[nodiscard]] StoredCharge stored_charge(const RailLoad* load, const RailOutput& output,
                                         const circuit::Circuit& circuit);

}  // namespace rampart
