#pragma once

#include <string>

#include "runtime/predict/answer.h"

namespace rampart::report {

// A report as one HTML page that asks nothing of a network. The answer has a table and its waveforms. The same
// answer gives the same bytes.
[[nodiscard]] std::string report_page(const Answer& answer);

}  // namespace rampart::report
