#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

// The characters of a text in UTF-8, and what of them a terminal may get.
namespace rampart {

struct Character {
  std::size_t length = 1;  // bytes
  std::uint32_t code = 0;  // Unicode code point
  bool valid = false;      // false: one byte that begins no well-formed sequence (Unicode 15.0, table 3-7)
};

// The character that begins at `at`, which lies in the text.
[[nodiscard]] Character character_at(std::string_view text, std::size_t at);

// True for what is obeyed and not shown, and can make a line read other than it is: control characters, separators of
// lines, and those that turn the direction of writing (Unicode Annex 9).
[[nodiscard]] bool is_hidden(std::uint32_t code);

// A text from outside as it may stand in a line on a terminal: U+FFFD in place of what is hidden or no UTF-8.
[[nodiscard]] std::string visible_text(std::string_view text);
// The same for a text of several lines, whose newlines stay.
[[nodiscard]] std::string visible_lines(std::string_view text);

}  // namespace rampart
