#pragma once

#include <string>

#include "runtime/predict/answer.h"

namespace rampart::cli {

// The faults that were tried, for people. Only for an answer that has tried them.
[[nodiscard]] std::string every_fault_text(const Answer& answer);

}  // namespace rampart::cli
