#include "runtime/editor/text_edits.h"

#include <algorithm>

namespace rampart::editor {

std::string replaced(const SourceFile& text, const PlaceRange& range, const std::string& by, Encoding encoding) {
  const Places places(text, encoding);
  const std::size_t begin = places.offset(range.start);
  const std::size_t end = std::max<std::size_t>(begin, places.offset(range.end));
  std::string result(text.text());
  return result.replace(begin, end - begin, by);
}

}  // namespace rampart::editor
