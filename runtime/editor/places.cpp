#include "runtime/editor/places.h"

#include <algorithm>

#include "lang/text/character.h"

namespace rampart::editor {
namespace {

std::uint32_t units_of(const Character& character, Encoding encoding) {
  switch (encoding) {
    case Encoding::Utf8:
      return static_cast<std::uint32_t>(character.length);
    case Encoding::Utf16:
      return character.code > 0xFFFFU ? 2 : 1;
    case Encoding::Utf32:
      break;
  }
  return 1;
}

}  // namespace

std::uint32_t Places::length(std::string_view text) const {
  std::uint32_t units = 0;
  for (std::size_t i = 0; i < text.size();) {
    const Character character = character_at(text, i);
    units += units_of(character, encoding_);
    i += character.length;
  }
  return units;
}

std::uint32_t Places::line_start(std::uint32_t line) const {
  return static_cast<std::uint32_t>(text_->line(line + 1).data() - text_->text().data());
}

Place Places::at(std::uint32_t offset) {
  const std::string_view text = text_->text();
  offset = std::min(offset, static_cast<std::uint32_t>(text.size()));
  const std::uint32_t line = text_->position(offset).line - 1;
  const bool goes_on = line == last_.line && offset >= last_offset_;
  std::uint32_t at = goes_on ? last_offset_ : line_start(line);
  Place place{line, goes_on ? last_.column : 0};
  while (at < offset) {
    const Character character = character_at(text, at);
    if (at + character.length > offset) break;
    place.column += units_of(character, encoding_);
    at += static_cast<std::uint32_t>(character.length);
  }
  last_offset_ = at;
  last_ = place;
  return place;
}

std::uint32_t Places::offset(const Place& place) const {
  const std::string_view text = text_->text();
  if (place.line >= text_->line_count()) return static_cast<std::uint32_t>(text.size());
  const std::string_view line = text_->line(place.line + 1);
  std::uint32_t column = 0;
  std::size_t at = 0;
  while (at < line.size() && column < place.column) {
    const Character character = character_at(line, at);
    column += units_of(character, encoding_);
    if (column > place.column) break;
    at += character.length;
  }
  return line_start(place.line) + static_cast<std::uint32_t>(at);
}

}  // namespace rampart::editor
