#include "runtime/support/json_levels.h"

#include <cstddef>

namespace rampart {

bool nests_deeper(std::string_view json, int most) {
  int levels = 0;
  bool in_text = false;
  for (std::size_t i = 0; i < json.size(); ++i) {
    const char c = json[i];
    if (in_text && c == '\\') {
      ++i;
    } else if (c == '"') {
      in_text = !in_text;
    } else if (!in_text && (c == '[' || c == '{')) {
      if (++levels > most) return true;
    } else if (!in_text && (c == ']' || c == '}')) {
      --levels;
    }
  }
  return false;
}

}  // namespace rampart
