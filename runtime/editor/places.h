#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

#include "lang/text/source.h"

namespace rampart::editor {

// What a column counts: bytes, UTF-16 code units, or code points (LSP 3.17, PositionEncodingKind).
enum class Encoding : std::uint8_t { Utf8, Utf16, Utf32 };

// A place in a text as an editor counts it: from 0.
struct Place {
  std::uint32_t line = 0;
  std::uint32_t column = 0;

  friend bool operator==(const Place&, const Place&) = default;
};

struct PlaceRange {
  Place start;
  Place end;

  friend bool operator==(const PlaceRange&, const PlaceRange&) = default;
};

// Columns of one text. It remembers the last place, so that going through a text in order costs no more than its bytes.
class Places {
 public:
  Places(const SourceFile& text, Encoding encoding) : text_(&text), encoding_(encoding) {}

  // An offset inside a character is the place of that character; one past the end is the end.
  [[nodiscard]] Place at(std::uint32_t offset);
  [[nodiscard]] PlaceRange range(const Span& span) { return {at(span.begin), at(span.end)}; }
  // A column past the end of its line is the end of the line, a line past the last one the end of the text.
  [[nodiscard]] std::uint32_t offset(const Place& place) const;
  // What `text` counts.
  [[nodiscard]] std::uint32_t length(std::string_view text) const;

 private:
  [[nodiscard]] std::uint32_t line_start(std::uint32_t line) const;

  const SourceFile* text_;
  Encoding encoding_;
  std::uint32_t last_offset_ = 0;
  Place last_;
};

}  // namespace rampart::editor
