#pragma once

#include <string>

#include "runtime/sweep/sweep.h"

namespace rampart::cli {

// What a sweep says, for people: what was asked for first, then each parameter.
[[nodiscard]] std::string sweep_text(const sweep::Sweep& sweep, const sweep::Request& request);

}  // namespace rampart::cli
