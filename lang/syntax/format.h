#pragma once

#include <string>

#include "lang/syntax/ast.h"
#include "lang/text/source.h"

namespace rampart {

// The profile's text in the one canonical layout: two blanks a level, one statement a line, one blank around operators
// and before units, units in their plain spelling, comments kept and aligned where they follow each other. Nothing but
// blanks, line ends, `;` and spellings of units changes; a block that stood on one line stays there if it fits in 100
// columns. Formatting the result again gives the same text.
//
// `profile` is what `parse` made of `file` without any finding of an error: a file with errors has no layout.
[[nodiscard]] std::string format_profile(const SourceSet& sources, FileId file, const ast::Profile& profile);

}  // namespace rampart
