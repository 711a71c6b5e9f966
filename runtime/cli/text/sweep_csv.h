#pragma once

#include <string>

#include "runtime/sweep/sweep.h"

namespace rampart::cli {

// All values that were tried, a row each, as CSV: of a map its cells.
[[nodiscard]] std::string sweep_csv(const sweep::Sweep& sweep);

}  // namespace rampart::cli
