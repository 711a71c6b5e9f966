#pragma once

#include <optional>

#include "runtime/circuit/circuit.h"

namespace rampart {

// How long, in s, the voltage of the load, or of the terminals, takes to come down to that many volts as the output is
// set. None where it takes more than a day, or has not come down after many changes of its load. The circuit is gone
// through that time.
[[nodiscard]] std::optional<double> time_to_fall(circuit::Circuit& circuit, double volts, bool at_load);

}  // namespace rampart
