#pragma once

#include "compiler/resolve/resolve.h"
#include "compiler/symbols/symbol_index.h"

namespace rampart {

// Adds the names of a profile and of all that it imports to an index that has those of the bench. Names are looked up
// as `resolve` does, in every declaration and statement, whether the run comes by or not; mistakes are not told again.
void add_profile_symbols(const SourceSet& sources, const ast::Profile& profile, const Bench& bench,
                         const ResolveOptions& options, SymbolIndex& index);

}  // namespace rampart
