#pragma once

#include <string>

#include "runtime/predict/answer.h"

namespace rampart::cli {

// The first screen: the verdict, what fails or trips, the tightest margins, what was not judged. With `strict`,
// warnings count as errors.
[[nodiscard]] std::string headline_text(const Answer& answer, bool strict);

// Its first line alone, of one of several profiles: "power-up.ramp: PASS: no trip".
[[nodiscard]] std::string verdict_line(const Answer& answer, bool strict);

}  // namespace rampart::cli
