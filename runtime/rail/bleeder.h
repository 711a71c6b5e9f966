#pragma once

#include <optional>

#include "runtime/answer/stored_charge.h"
#include "runtime/circuit/circuit.h"

namespace rampart {

// Where a rail has to come down to, and in what time.
struct Discharge {
  StoredCharge from;
  circuit::Setting setting;  // of the output meanwhile
  double level = 0;          // V
  bool at_load = true;       // of the load's voltage; else of the terminals'
  double within_s = 0;
};

struct Bleeder {
  double resistance_Ohm = 0;  // of the E24 series (IEC 60063)
  double time_s = 0;          // that the discharge takes with it across the load
};

// The largest resistor that gets there in time; where that takes more than a resistor of 10 W can turn to heat, the
// smallest that takes no more. Each is tried by simulating the discharge. None where no resistor gets there at all.
[[nodiscard]] std::optional<Bleeder> find_bleeder(const Discharge& discharge);

}  // namespace rampart
