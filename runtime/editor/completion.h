#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "runtime/editor/view.h"

namespace rampart::editor {

enum class CompletionKind : std::uint8_t {
  Word,
  Value,
  Rail,
  Line,
  Sequence,
  Channel,
  Unit,
  Function,
  Operator,
  Text,
  File
};

struct CompletionItem {
  std::string label;
  CompletionKind kind{};
  std::string detail;
  std::string text;  // that is written
};

// What may stand at a place, most likely first, and the text that it replaces.
struct Completion {
  Span replaced;
  std::vector<CompletionItem> items;
};

// `folder` is where relative paths of the text start from.
[[nodiscard]] Completion complete(const View& view, std::uint32_t offset, const std::string& folder);

}  // namespace rampart::editor
