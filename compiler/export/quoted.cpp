#include "compiler/export/quoted.h"

namespace rampart {

std::string quoted_field(const std::string& text) {
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + "\"";
}

}  // namespace rampart
