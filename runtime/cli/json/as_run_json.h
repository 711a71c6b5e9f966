#pragma once

#include <string>

#include "runtime/as_run/evaluate.h"

namespace rampart::cli {

// The document of docs/evaluate.schema.json.
[[nodiscard]] std::string as_run_document(const as_run::Evaluated& evaluated);

}  // namespace rampart::cli
