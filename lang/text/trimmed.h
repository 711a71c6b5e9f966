#pragma once

#include <string_view>

namespace rampart {

// The text without spaces and tabs at both ends.
[[nodiscard]] constexpr std::string_view trimmed(std::string_view text) {
  const auto is_blank = [](char c) { return c == ' ' || c == '\t'; };
  while (!text.empty() && is_blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && is_blank(text.back())) text.remove_suffix(1);
  return text;
}

}  // namespace rampart
