#pragma once

#include <string>
#include <string_view>

namespace rampart {

// What to write instead of `word`, which stands behind a number and is no unit. Empty if nothing comes near.
[[nodiscard]] std::string unit_hint(std::string_view word);

}  // namespace rampart
