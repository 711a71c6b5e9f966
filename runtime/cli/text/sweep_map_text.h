#pragma once

#include <string>

#include "runtime/sweep/sweep.h"

namespace rampart::cli {

// A map of two parameters in plain characters: how much is left of the tightest limit, and where nothing holds.
[[nodiscard]] std::string sweep_map_text(const sweep::Map& map, bool has_load);

}  // namespace rampart::cli
