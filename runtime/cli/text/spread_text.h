#pragma once

#include <string>

#include "runtime/predict/compilation.h"

namespace rampart::cli {

// What corners and samples of a simulation came to, as far as they were asked for; else empty.
[[nodiscard]] std::string spread_text(const Compilation& compilation);

}  // namespace rampart::cli
