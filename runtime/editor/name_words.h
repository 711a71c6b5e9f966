#pragma once

#include <string>

#include "runtime/editor/view.h"

namespace rampart::editor {

// What a name stands for, as Markdown: "parameter `level`: 5 V, in 4 V .. 6 V", a rail with its channel and protection,
// a channel with what it can do.
[[nodiscard]] std::string name_words(const View& view, const SymbolIndex& index, SymbolId id);

}  // namespace rampart::editor
