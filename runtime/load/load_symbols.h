#pragma once

#include <vector>

#include "compiler/compile/compile.h"
#include "compiler/symbols/symbol_index.h"
#include "lang/text/source.h"

namespace rampart {

// Adds the elements and faults of a load file to the names of a profile, with the uses of the profile's rails and marks
// in it, and those of its faults in the profile. What cannot be read of the file is left out without a word.
void add_load_symbols(const SourceSet& sources, FileId file, const std::vector<NamedFault>& used, SymbolIndex& index);

}  // namespace rampart
