#pragma once

#include "compiler/symbols/symbol_index.h"
#include "lang/text/source.h"

namespace rampart {

// Adds the supplies, channels, outputs and trigger lines of a bench file, with their uses in it. What cannot be read of
// the file is left out without a word.
void add_bench_symbols(const SourceSet& sources, FileId file, SymbolIndex& index);

// The uses of a supply and its channel or line in a name such as "left.ch1", or of an output in one without a point.
void use_output(std::string_view name, const Span& span, SymbolKind part, SymbolIndex& index);

}  // namespace rampart
