#pragma once

#include <string>

#include "runtime/predict/compilation.h"

namespace rampart::cli {

// Whether it holds, what trips, and the least margin, in one line.
[[nodiscard]] std::string verdict_text(const Compilation& compilation);

// A simulation for people: `drawing`, if any, then figures, events and margins in aligned columns.
[[nodiscard]] std::string simulation_text(const Compilation& compilation, const std::string& drawing);

}  // namespace rampart::cli
