#pragma once

#include <nlohmann/json_fwd.hpp>

#include "runtime/predict/compilation.h"

// Parts of the documents that the program writes.
namespace rampart::cli {

// The findings of a compilation, as every document has them.
[[nodiscard]] nlohmann::ordered_json findings_json(const Compilation& compilation);

// The corners and the sample of a compilation, as far as they were asked for, as "corners" and "sample".
void add_spread(const Compilation& compilation, nlohmann::ordered_json& document);

}  // namespace rampart::cli
