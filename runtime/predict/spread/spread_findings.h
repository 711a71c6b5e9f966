#pragma once

#include <string>

#include "lang/findings/finding.h"
#include "runtime/predict/spread/corners.h"
#include "runtime/predict/spread/runner.h"

namespace rampart::spread {

// "capacitance of capacitor 1 of logic at 564 uF, voltage of left.ch1 at +0.1 % +5 mV": what is not nominal there.
[[nodiscard]] std::string corner_text(const std::vector<Tolerance>& tolerances, const Positions& at);

// Reports what fails in some corner, though the run itself has nothing of the kind. Throws PartMistake where only the
// parts say so.
void report_corners(const Runner& runner, const Corners& corners, FindingSink& findings);

}  // namespace rampart::spread
