#pragma once

#include <string>

#include "runtime/predict/answer.h"

namespace rampart::cli {

// What run is shown, in one line, with the courses of its rails as `drawing` (timeline_text.h), which may be empty.
[[nodiscard]] std::string run_text(const Answer& answer, const std::string& drawing = "");

// What the load does, as tables: figures of each rail, events, margins, rules, expectations, assumptions.
[[nodiscard]] std::string simulation_tables(const Answer& answer);

}  // namespace rampart::cli
