#pragma once

#include <string>

#include "runtime/predict/answer.h"

namespace rampart::cli {

// The faults that were tried, for people. Only for an answer that has tried them.
[[nodiscard]] std::string every_fault_text(const Answer& answer);

// "switched off", "played on", "linked at 1.02 s".
[[nodiscard]] std::string reaction_text(const OtherRail& other);

}  // namespace rampart::cli
