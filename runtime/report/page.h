#pragma once

#include <string>

#include "runtime/predict/compilation.h"

namespace rampart::report {

// A report as one HTML page that asks nothing of a network. The compilation has a table and its waveforms. The same
// compilation gives the same bytes.
[[nodiscard]] std::string report_page(const Compilation& compilation);

}  // namespace rampart::report
