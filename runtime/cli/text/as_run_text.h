#pragma once

#include <string>

#include "runtime/as_run/evaluate.h"

namespace rampart::cli {

// What the log of a run says, the verdicts first. The log was read.
[[nodiscard]] std::string as_run_text(const as_run::Evaluated& evaluated);

}  // namespace rampart::cli
