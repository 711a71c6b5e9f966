#pragma once

#include <string>

namespace rampart {

// `text` in quotes, inner ones doubled: RFC 4180, rules 5 to 7. One that a spreadsheet would take for a formula begins
// with an apostrophe, which it shows as text (OWASP, CSV Injection).
[[nodiscard]] std::string quoted_field(const std::string& text);

}  // namespace rampart
