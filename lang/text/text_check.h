#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace rampart {

// What makes a text unfit to be read as a profile in UTF-8 with plain line ends, and where.
struct TextFault {
  std::size_t begin = 0;
  std::size_t end = 0;
  std::string what;  // "a byte-order mark", "a NUL byte, as in a binary file", ...
  std::string hint;
  bool readable = false;  // the rest of the text can be read all the same
};

// The first fault of `text`: a byte-order mark, bytes that are no UTF-8 (Unicode 15.0, table 3-7), a control character
// other than tab and line end, a character that turns the direction of writing, or a bench or load file, which is YAML.
// Empty if the text is clean.
[[nodiscard]] std::optional<TextFault> find_text_fault(std::string_view text);

}  // namespace rampart
