#pragma once

#include <cstddef>

#include "lang/findings/finding.h"
#include "lang/syntax/ast.h"
#include "lang/text/source.h"

namespace rampart {

// Blocks, parentheses and prefix operators may be nested this deep.
inline constexpr int kMaxNesting = 64;
// Findings of one file after which the parser stops looking for more syntax errors.
inline constexpr int kMaxSyntaxFindings = 100;

// Larger profiles give a finding and are not read: the tree takes up to a hundred times the size of its text.
inline constexpr std::size_t kMaxProfileBytes = std::size_t{16} << 20;

// Reads one profile. Every syntax error is reported, each once and at its place; what could not be read stands in the
// result as BadStatement or BadDeclaration. A text that is no UTF-8 or holds control characters gives one finding.
[[nodiscard]] ast::Profile parse(const SourceSet& sources, FileId file, FindingSink& findings);

}  // namespace rampart
