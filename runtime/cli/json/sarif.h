#pragma once

#include <string>

#include "runtime/cli/shared/common.h"

namespace rampart::cli {

// One SARIF 2.1.0 log (OASIS) with the findings of all profiles; the rule catalogue is that of lang/findings/all.def.
[[nodiscard]] std::string sarif_document(const Answers& answers);

}  // namespace rampart::cli
