#pragma once

#include <string>

#include "runtime/predict/answer.h"

namespace rampart::cli {

// What corners and samples of a simulation came to, as far as they were asked for; else empty.
[[nodiscard]] std::string spread_text(const Answer& answer);

}  // namespace rampart::cli
