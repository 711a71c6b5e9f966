#pragma once

#include <string_view>

#include "lang/syntax/advice.h"

namespace rampart {

// What to write instead of `word`, which stands behind a number and is no unit. Empty if nothing comes near.
[[nodiscard]] Advice unit_hint(std::string_view word);

}  // namespace rampart
