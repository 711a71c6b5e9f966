#pragma once

#include <cstddef>
#include <optional>
#include <string_view>

namespace rampart {

// The mark that the instant of a fault counts from, in `mark NAME`, `mark NAME + 5 s` or `mark NAME - 5 s`; a name that
// holds a `+` or ` - ` stands in double quotes.
struct MarkPart {
  std::string_view name;
  std::size_t begin = 0;              // of the name in the text
  std::optional<std::size_t> time{};  // where the time behind the sign begins, if there is a sign
  bool is_before = false;             // it is a minus
};

// Empty for a text that names no mark: it does not begin with `mark`, or nothing follows.
[[nodiscard]] std::optional<MarkPart> mark_part(std::string_view text);

}  // namespace rampart
