#pragma once

#include <string>

#include "runtime/cli/terminal/terminal.h"
#include "runtime/predict/compilation.h"

namespace rampart::cli {

// The voltage at each rail's load over the run to show, drawn in the width of a terminal, with marks, phases in
// constant current and trips below. Needs the compilation's waveforms; empty without them.
[[nodiscard]] std::string timeline_text(const Compilation& compilation, const Terminal& terminal);

}  // namespace rampart::cli
