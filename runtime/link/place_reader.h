#pragma once

#include "compiler/yaml/file_values.h"
#include "runtime/link/link.h"

namespace rampart::link {

// How a supply is reached: the one of `tcp`, `serial` and `usbtmc` that its section gives.
[[nodiscard]] std::optional<Place> read_place(const Section& section, FindingSink& findings);

}  // namespace rampart::link
