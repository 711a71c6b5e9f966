#pragma once

#include <string>

#include "runtime/fit/fit.h"

namespace rampart::cli {

// What was estimated, how well, and how far readings and prediction are apart before and after.
[[nodiscard]] std::string fit_text(const fit::Fit& fit);

}  // namespace rampart::cli
