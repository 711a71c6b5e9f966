#pragma once

#include <cstddef>
#include <string>

#include "runtime/predict/answer.h"

namespace rampart::cli {

// The readings of the run that is shown, a row each, the voltage and current of each rail side by side: the first
// `most` of them. Empty without any.
[[nodiscard]] std::string readings_text(const Answer& answer, std::size_t most);

}  // namespace rampart::cli
