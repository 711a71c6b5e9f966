#pragma once

#include <memory>

#include "runtime/circuit/circuit.h"
#include "runtime/load/load.h"
#include "runtime/load/output_traits.h"

namespace rampart {

// The nominal values of a rail's load as parts of a circuit. Empty where an element is not linear.
[[nodiscard]] std::optional<circuit::Parts> linear_parts(const RailLoad& load);

// The circuit of a rail: exact where the load is linear. No load is an open rail. `output_voltage`: V that the output's
// own capacitance is charged to.
[[nodiscard]] std::unique_ptr<circuit::Circuit> circuit_of(const RailLoad* load, const RailTerminals& output,
                                                           double output_voltage = 0);

}  // namespace rampart
