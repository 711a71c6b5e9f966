#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "lang/findings/finding.h"
#include "lang/text/source.h"

// The YAML of bench and load files as a tree of texts with their places. No text is converted here: what `010`, `.nan`
// or a quoted number means is for the reader of the value to say.
namespace rampart {

// Bounds of one bench or load file; beyond them it is refused with a finding that says the bound.
inline constexpr std::size_t kMaxYamlBytes = std::size_t{1} << 20;
inline constexpr std::size_t kMaxYamlNodes = 100'000;
inline constexpr std::size_t kMaxYamlDepth = 16;
inline constexpr std::size_t kMaxYamlTextBytes = 4096;

enum class YamlKind : std::uint8_t { Empty, Text, List, Map };

struct YamlEntry;

struct YamlNode {
  YamlKind kind = YamlKind::Empty;
  Span span;         // never empty where the value has text; the key's where there is no value
  std::string text;  // of a Text; quotes and escapes resolved
  // True if `text` stands in the source byte by byte, from `text_begin` on: a part of it then has a place of its own.
  bool verbatim = false;
  std::uint32_t text_begin = 0;
  std::vector<YamlNode> items;     // of a List
  std::vector<YamlEntry> entries;  // of a Map, in the order written; no key twice

  // The place of a part of `text`; the whole value's where the part has none of its own.
  [[nodiscard]] Span part(std::size_t offset, std::size_t length) const;
  [[nodiscard]] const YamlEntry* find(std::string_view key) const;
};

struct YamlEntry {
  std::string key;
  Span key_span;
  YamlNode value;
};

// Reads a text as one YAML document whose top is a map. Empty if the text is no UTF-8, no YAML, empty, beyond a bound,
// or uses what these files do without: anchors, aliases, tags, several documents, keys that are no texts.
// Duplicate keys are reported, and the first one stays in the tree.
[[nodiscard]] std::optional<YamlNode> read_yaml(const SourceSet& sources, FileId file, FindingSink& findings);

}  // namespace rampart
