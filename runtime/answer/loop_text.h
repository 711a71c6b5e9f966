#pragma once

#include <string>

#include "runtime/answer/simulation.h"

namespace rampart {

// How the passes of a loop that were not gone through were added; empty where there are none.
[[nodiscard]] std::string added_passes_text(const FoldedLoop& loop);

}  // namespace rampart
