#pragma once

#include <optional>
#include <string>

#include "runtime/sweep/sweep.h"

namespace rampart::cli {

// {"rampart": VERSION, "profile": PATH, "has_load": true, "parameters": [...], "found": ..., "findings": [...]};
// docs/sweep.schema.json has the rest. The findings are those of the value that was found, else of the profile as it
// is.
[[nodiscard]] std::string sweep_document(const sweep::Sweep& sweep, const std::optional<sweep::Find>& find);

}  // namespace rampart::cli
