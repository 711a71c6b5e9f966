#pragma once

#include <string>

#include "lang/syntax/ast.h"

namespace rampart::test {

// The tree as text without places: two profiles that say the same give the same text. Expressions come in postfix
// order, as in "(ramp (logic to 3.3V) over 0.4s)".
std::string ast_text(const ast::Profile& profile);
std::string ast_text(const ast::Expression& expression);

}  // namespace rampart::test
