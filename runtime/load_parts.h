#pragma once

#include "runtime/circuit/network.h"
#include "runtime/load.h"

namespace rampart {

// The nominal values of a rail's load as parts of a circuit. Empty where an element is not linear.
[[nodiscard]] std::optional<circuit::Parts> linear_parts(const RailLoad& load);

}  // namespace rampart
