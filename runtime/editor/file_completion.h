#pragma once

#include <cstdint>

#include "runtime/editor/completion.h"

namespace rampart::editor {

// The same in a bench or load file: the keys of the map around the place, or the values that its key takes.
[[nodiscard]] Completion complete_file(const View& view, std::uint32_t offset);

}  // namespace rampart::editor
