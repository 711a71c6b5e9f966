#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "runtime/editor/view.h"

namespace rampart::editor {

struct InlayHint {
  std::uint32_t offset = 0;
  std::string text;  // "1.01 s", "1.01 s, 3 times"
};

// The times at which statements begin, behind each of them, by their places. `begin` and `end` bound what is asked for.
[[nodiscard]] std::vector<InlayHint> inlay_hints(const View& view, std::uint32_t begin, std::uint32_t end);

}  // namespace rampart::editor
