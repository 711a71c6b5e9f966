#pragma once

#include <string>

#include "runtime/predict/answer.h"

namespace rampart::cli {

// Whether it holds, what trips, and the least margin, in one line.
[[nodiscard]] std::string verdict_text(const Answer& answer);

// A simulation for people: `drawing`, if any, then figures, events and margins in aligned columns.
[[nodiscard]] std::string simulation_text(const Answer& answer, const std::string& drawing);

}  // namespace rampart::cli
