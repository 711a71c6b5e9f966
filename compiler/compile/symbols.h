#pragma once

#include "compiler/compile/compile.h"
#include "compiler/symbols/symbol_index.h"

namespace rampart {

// The names of the bench, the profile and its imports, as far as they could be looked up: also where there are errors.
[[nodiscard]] SymbolIndex symbols_of(const Compiled& compiled);

}  // namespace rampart
