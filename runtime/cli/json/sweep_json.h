#pragma once

#include <string>

#include "runtime/sweep/sweep.h"

namespace rampart::cli {

// {"rampart": VERSION, "profile": PATH, "parameters": [...], "map": ..., "found": ..., "findings": [...]};
// docs/sweep.schema.json has the rest. The findings are those of the value that was found, else of the profile as it
// is.
[[nodiscard]] std::string sweep_document(const sweep::Sweep& sweep, const sweep::Request& request);

}  // namespace rampart::cli
