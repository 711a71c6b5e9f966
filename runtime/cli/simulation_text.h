#pragma once

#include <string>

#include "runtime/compilation.h"

namespace rampart::cli {

// A simulation for people: a verdict first, then figures, events and margins in aligned columns.
[[nodiscard]] std::string simulation_text(const Compilation& compilation);

}  // namespace rampart::cli
