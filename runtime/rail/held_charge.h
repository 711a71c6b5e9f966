#pragma once

#include "runtime/answer/stored_charge.h"
#include "runtime/circuit/circuit.h"

namespace rampart {

// What a rail with that load, or with none, holds now.
[[nodiscard]] StoredCharge stored_charge(const RailLoad* load, const RailTerminals& output,
                                         const circuit::Circuit& circuit);

}  // namespace rampart
