#pragma once

#include <vector>

#include "compiler/file_values.h"
#include "runtime/load.h"

namespace rampart {

// Reads the elements that a list of a load file holds, each a map with its `kind`. What is wrong is reported; elements
// with mistakes are in the result only as far as they could be read.
[[nodiscard]] std::vector<LoadElement> read_elements(const Field& field, FindingSink& findings);

}  // namespace rampart
