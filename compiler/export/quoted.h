#pragma once

#include <string>

namespace rampart {

// `text` in quotes, inner ones doubled: RFC 4180, rules 5 to 7.
[[nodiscard]] std::string quoted_field(const std::string& text);

}  // namespace rampart
