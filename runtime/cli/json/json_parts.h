#pragma once

#include <nlohmann/json_fwd.hpp>

#include "runtime/predict/answer.h"

// Parts of the documents that the program writes.
namespace rampart::cli {

// One finding, as every document has it.
[[nodiscard]] nlohmann::ordered_json finding_json(const SourceSet& sources, const Finding& finding);
// The findings of an answer, as every document has them.
[[nodiscard]] nlohmann::ordered_json findings_json(const Answer& answer);

// The corners and the sample of an answer, as far as they were asked for, as "corners" and "sample".
void add_spread(const Answer& answer, nlohmann::ordered_json& document);

}  // namespace rampart::cli
