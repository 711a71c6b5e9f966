#pragma once

#include <string>

#include "compiler/export/origin.h"
#include "runtime/compilation.h"

namespace rampart {

// The files and parameters that a compilation was made from. The compilation has a profile.
[[nodiscard]] Origin origin_of(const Compilation& compilation);

// Where the set-up and origin of a table stand that does not hold them itself: beside it, as "FILE.setup.json".
[[nodiscard]] std::string setup_path(const std::string& table_path);

}  // namespace rampart
