#pragma once

#include <optional>

#include "runtime/circuit/circuit.h"

namespace rampart {

// How long, in s, a rail whose output is off takes to come down to kChargedVolts by itself. None where it takes more
// than a day, or has not come down after many changes of its load. The circuit is gone through that time.
[[nodiscard]] std::optional<double> time_to_clear(circuit::Circuit& circuit);

}  // namespace rampart
