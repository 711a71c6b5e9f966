#pragma once

#include <string>

#include "runtime/predict/answer.h"

namespace rampart::cli {

// What corners and samples of a simulation came to, as far as they were asked for; else empty.
[[nodiscard]] std::string spread_summary(const Answer& answer);

// What is varied and what comes of it, as tables; likewise.
[[nodiscard]] std::string spread_tables(const Answer& answer);

}  // namespace rampart::cli
