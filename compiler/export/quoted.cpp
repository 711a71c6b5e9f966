#include "compiler/export/quoted.h"

#include <string_view>

namespace rampart {

std::string quoted_field(const std::string& text) {
  std::string quoted = "\"";
  if (!text.empty() && std::string_view("=+-@\t\r").find(text.front()) != std::string_view::npos) quoted += '\'';
  for (const char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + "\"";
}

}  // namespace rampart
