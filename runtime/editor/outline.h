#pragma once

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "runtime/editor/view.h"

// The shape of a text: what it declares, what folds, and what its words are.
namespace rampart::editor {

enum class OutlineKind : std::uint8_t {
  Value,
  Rail,
  Line,
  Protection,
  Rule,
  Sequence,
  Run,
  Mark,
  Expectation,
  Supply,
  Channel,
  File
};

struct OutlineItem {
  std::string name;
  std::string detail;
  OutlineKind kind{};
  Span whole;
  Span name_span;  // inside of `whole`
  std::vector<OutlineItem> parts;
};
[[nodiscard]] std::vector<OutlineItem> outline(const View& view);

// What can be folded: spans that begin and end on different lines.
struct Fold {
  Span span;
  bool is_comment = false;
};
[[nodiscard]] std::vector<Fold> folds(const View& view);

enum class WordKind : std::uint8_t {
  Keyword,
  Number,
  Text,
  Comment,
  Value,
  Parameter,
  Rail,
  Channel,
  Line,
  Sequence,
  Mark,
};
struct ColouredWord {
  Span span;
  WordKind kind{};
  bool declares = false;
};
// In the order of the text; none overlaps another.
[[nodiscard]] std::vector<ColouredWord> coloured_words(const View& view);

}  // namespace rampart::editor
