#pragma once

#include <cstdint>
#include <string>

namespace rampart {

// The text of a profile for one rail whose run has about so many statements: ramps between changing levels, dwells
// and, now and then, a block.
[[nodiscard]] std::string generated_profile(std::int64_t statements);

}  // namespace rampart
