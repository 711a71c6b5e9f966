#pragma once

#include <string_view>

namespace rampart {

// This build's version, such as "0.1.0".
[[nodiscard]] std::string_view version();

}  // namespace rampart
