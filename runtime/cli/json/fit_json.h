#pragma once

#include <string>

#include "runtime/fit/fit.h"

namespace rampart::cli {

// The document of docs/fit-load.schema.json.
[[nodiscard]] std::string fit_document(const fit::Fitted& fitted);

}  // namespace rampart::cli
