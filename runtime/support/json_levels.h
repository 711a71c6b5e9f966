#pragma once

#include <string_view>

namespace rampart {

// What copies or writes a document calls itself at each level, so that a deep one would use up the stack.
inline constexpr int kMostJsonLevels = 64;

// Whether a JSON text has more levels of lists and objects than `most`.
[[nodiscard]] bool nests_deeper(std::string_view json, int most);

}  // namespace rampart
