#pragma once

#include <string>

#include "lang/text/source.h"
#include "runtime/editor/places.h"

namespace rampart::editor {

// A text with one range of it replaced. Places past the end are the end; a range that ends before it begins is empty.
[[nodiscard]] std::string replaced(const SourceFile& text, const PlaceRange& range, const std::string& by,
                                   Encoding encoding);

}  // namespace rampart::editor
