#pragma once

#include <string>

#include "runtime/cli/terminal/terminal.h"
#include "runtime/predict/answer.h"

namespace rampart::cli {

// The voltage at each rail's load over the run to show, drawn in the width of a terminal, with marks, phases in
// constant current and trips below. Needs the answer's waveforms; empty without them.
[[nodiscard]] std::string timeline_text(const Answer& answer, const Terminal& terminal);

}  // namespace rampart::cli
