#pragma once

#include <cstddef>
#include <optional>

namespace rampart::cli {

// The terminal that standard output goes to.
struct Terminal {
  std::size_t width = 80;  // characters
  bool utf8 = false;       // by the locale's variables, LC_ALL before LC_CTYPE before LANG
};

// None where standard output is no terminal.
[[nodiscard]] std::optional<Terminal> output_terminal();

}  // namespace rampart::cli
