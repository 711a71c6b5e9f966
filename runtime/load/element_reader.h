#pragma once

#include <optional>
#include <vector>

#include "compiler/yaml/file_values.h"
#include "runtime/load/load.h"

namespace rampart {

// A value with its tolerance, in doubles.
[[nodiscard]] std::optional<Toleranced> read_toleranced(const Field& field, const Dimension& dimension, Bound bound,
                                                        FindingSink& findings);

// Reads the elements that a list of a load file holds, each a map with its `kind`. Every mistake is reported; nothing
// is given where there is one.
[[nodiscard]] std::optional<std::vector<LoadElement>> read_elements(const Field& field, FindingSink& findings);

}  // namespace rampart
