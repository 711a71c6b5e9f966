#pragma once

#include <memory>

#include "compiler/compile/compile.h"
#include "lang/files/files.h"
#include "lang/findings/finding.h"
#include "runtime/load/load.h"

namespace rampart {

// Null: no load is known.
using LoadPtr = std::shared_ptr<const Load>;

// Reads the load that a compiled profile names or was given. Null where it has none, and with findings where it cannot
// be read. Faults that the profile speaks of have to be in it (unknown-name).
[[nodiscard]] LoadPtr read_load(const Compiled& compiled, Files& files, FindingSink& findings);

}  // namespace rampart
