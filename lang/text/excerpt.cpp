#include "lang/text/excerpt.h"

#include <algorithm>
#include <cstdint>
#include <vector>

#include "lang/text/character.h"

namespace rampart {
namespace {

constexpr std::size_t kTabWidth = 4;
constexpr std::size_t kMaxWidth = 100;    // columns of source text shown
constexpr std::size_t kLead = 30;         // of them before the span, where the line is cut
constexpr std::size_t kNearBytes = 2000;  // of the line on each side of the span's begin that are looked at

struct CodePointRange {
  std::uint32_t first;
  std::uint32_t last;
};

// Blocks that terminals show two columns wide (Unicode Annex 11, East Asian Wide and emoji), coarsely.
constexpr CodePointRange kWide[] = {{0x1100, 0x115F},   {0x2E80, 0x303E},   {0x3041, 0xA4CF},   {0xAC00, 0xD7A3},
                                    {0xF900, 0xFAFF},   {0xFE30, 0xFE6F},   {0xFF00, 0xFF60},   {0xFFE0, 0xFFE6},
                                    {0x1F300, 0x1F64F}, {0x1F680, 0x1F6FF}, {0x1F900, 0x1F9FF}, {0x20000, 0x3FFFD}};
// Marks and formatting characters that take no column.
constexpr CodePointRange kNarrow[] = {{0x0300, 0x036F}, {0x200B, 0x200F}, {0x20D0, 0x20FF}, {0xFE00, 0xFE0F}};

template <std::size_t kCount>
bool within(const CodePointRange (&ranges)[kCount], std::uint32_t code) {
  return std::any_of(std::begin(ranges), std::end(ranges),
                     [code](const CodePointRange& range) { return code >= range.first && code <= range.last; });
}

// One character of a line as it is shown.
struct Glyph {
  std::size_t offset = 0;  // in the line
  std::string text;
  std::size_t width = 1;
};

std::vector<Glyph> glyphs_of(std::string_view line) {
  std::vector<Glyph> glyphs;
  std::size_t column = 0;
  for (std::size_t i = 0; i < line.size();) {
    const auto [length, code, valid] = character_at(line, i);
    Glyph glyph{i, std::string(line.substr(i, length)), 1};
    if (code == '\t') {
      glyph.width = kTabWidth - column % kTabWidth;
      glyph.text = std::string(glyph.width, ' ');
    } else if (!valid || is_hidden(code)) {
      glyph.text = "\uFFFD";
    } else if (within(kNarrow, code)) {
      glyph.width = 0;
    } else if (within(kWide, code)) {
      glyph.width = 2;
    }
    column += glyph.width;
    i += length;
    glyphs.push_back(std::move(glyph));
  }
  return glyphs;
}

std::size_t width_of(const std::vector<Glyph>& glyphs, std::size_t from, std::size_t to) {
  std::size_t width = 0;
  for (std::size_t i = from; i < to; ++i) width += glyphs[i].width;
  return width;
}

// The glyphs to show: all of a short line, else a window that begins shortly before the span.
struct Window {
  std::size_t begin = 0;
  std::size_t end = 0;
};

Window window_around(const std::vector<Glyph>& glyphs, std::size_t span_begin) {
  Window window{0, glyphs.size()};
  if (width_of(glyphs, 0, glyphs.size()) <= kMaxWidth) return window;
  while (width_of(glyphs, window.begin, span_begin) > kLead) ++window.begin;
  window.end = window.begin;
  std::size_t width = 0;
  while (window.end < glyphs.size() && width + glyphs[window.end].width <= kMaxWidth)
    width += glyphs[window.end++].width;
  return window;
}

// The part of a line near `at`, cut between characters: a line may be as long as its file.
std::string_view neighbourhood(std::string_view line, std::size_t at) {
  const auto within_character = [line](std::size_t i) {
    return i > 0 && i < line.size() && (static_cast<unsigned char>(line[i]) & 0xC0U) == 0x80U;
  };
  std::size_t begin = at > kNearBytes ? at - kNearBytes : 0;
  std::size_t end = std::min(line.size(), at + kNearBytes);
  while (within_character(begin)) ++begin;
  while (within_character(end)) ++end;
  return line.substr(begin, end - begin);
}

std::size_t glyph_at(const std::vector<Glyph>& glyphs, std::size_t offset) {
  const auto found = std::lower_bound(glyphs.begin(), glyphs.end(), offset,
                                      [](const Glyph& glyph, std::size_t at) { return glyph.offset < at; });
  return static_cast<std::size_t>(found - glyphs.begin());
}

std::size_t offset_in(const SourceFile& file, std::string_view part) {
  return static_cast<std::size_t>(part.data() - file.text().data());
}

}  // namespace

std::string excerpt(const SourceSet& sources, const Span& span) {
  const SourceFile& file = sources[span.file];
  if (file.text().empty()) return {};
  const std::uint32_t number = file.position(span.begin).line;
  const std::string_view whole = file.line(number);
  const std::size_t place = std::min(span.begin - offset_in(file, whole), whole.size());
  const std::string_view line = neighbourhood(whole, place);
  const std::size_t line_begin = offset_in(file, line);
  const std::size_t first = std::min(span.begin - line_begin, line.size());
  const std::size_t last = std::clamp<std::size_t>(span.end - line_begin, first, line.size());

  const std::vector<Glyph> glyphs = glyphs_of(line);
  const std::size_t begin = glyph_at(glyphs, first);
  const Window window = window_around(glyphs, begin);
  const std::size_t end = std::min(glyph_at(glyphs, last), window.end);

  std::string shown;
  for (std::size_t i = window.begin; i < window.end; ++i) shown += glyphs[i].text;
  const std::string before = window.begin > 0 || line.data() != whole.data() ? "…" : "";
  const bool ends_here = window.end == glyphs.size() && line.data() + line.size() == whole.data() + whole.size();
  const std::string after = ends_here ? "" : "…";
  const std::size_t indent = (before.empty() ? 0 : 1) + width_of(glyphs, window.begin, begin);
  const std::size_t length = std::max<std::size_t>(1, begin < end ? width_of(glyphs, begin, end) : 0);

  const std::string label = std::to_string(number);
  std::string text = "  " + label + " | " + before + shown + after + "\n";
  text +=
      std::string(2 + label.size(), ' ') + " | " + std::string(indent, ' ') + "^" + std::string(length - 1, '~') + "\n";
  return text;
}

}  // namespace rampart
