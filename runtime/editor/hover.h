#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "runtime/editor/view.h"

namespace rampart::editor {

struct Hover {
  std::string text;  // Markdown
  Span span;         // what it speaks of
};

// What stands at an offset: a name with its value, a calculated value, or a statement with the times at which it is
// played, the rails around it, and the margin that it leaves.
[[nodiscard]] std::optional<Hover> hover(const View& view, std::uint32_t offset);

// "1.01 s"; after a wait "wait 1 + 300 ms".
[[nodiscard]] std::string instant_text(const RunInstant& instant);

}  // namespace rampart::editor
