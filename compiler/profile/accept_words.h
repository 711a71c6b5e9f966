#pragma once

#include <string>
#include <string_view>

namespace rampart {

// The statement that accepts a finding on a rail, for a hint: "`accept no-fuse on core because "…"`".
[[nodiscard]] std::string accept_words(std::string_view finding, std::string_view rail);

}  // namespace rampart
