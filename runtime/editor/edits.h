#pragma once

#include <optional>
#include <string>
#include <vector>

#include "runtime/editor/view.h"

namespace rampart::editor {

// A change of one text.
struct TextEdit {
  Span span;
  std::string text;
};
// Changes of one file, by their places; none overlaps another.
struct FileEdits {
  TextPtr text;
  std::vector<TextEdit> edits;
};

// The text in its canonical layout, as the smallest change of lines. Nothing where it is so already, has syntax errors,
// or is no profile.
[[nodiscard]] std::vector<TextEdit> format_edits(const View& view);

// What a hint says to write in place of what a finding stands at.
struct Repair {
  std::string title;
  std::size_t finding = 0;  // of the findings it was made from
  TextEdit edit;
};
// For the findings that touch a range of offsets of the text.
[[nodiscard]] std::vector<Repair> repairs(const std::vector<Finding>& findings, const Span& range);

// A name by the place of its definition, which several profiles may share.
struct DefinedName {
  SymbolKind kind{};
  std::string path;  // canonical, of the file
  std::uint32_t begin = 0;
};
// Empty for a name that is defined in no text.
[[nodiscard]] std::optional<DefinedName> defined_name(const SymbolIndex& index, SymbolId id, const SourceSet& texts,
                                                      const Files& files);

// All places of a name in the profiles that use it, each once.
struct PlaceInFile {
  TextPtr text;
  Span span;
  bool defines = false;
};
[[nodiscard]] std::vector<PlaceInFile> places_of(const DefinedName& name, const std::vector<AnalysisPtr>& users,
                                                 const Files& files);

// Why a name cannot be changed, or what changes.
struct Renaming {
  std::string refused;  // empty: the edits are good
  std::vector<FileEdits> edits;
};
// Gives a name another spelling wherever it stands. Refused where that makes a profile wrong.
[[nodiscard]] Renaming rename(const DefinedName& name, const std::vector<AnalysisPtr>& users,
                              const std::string& spelling, Files& files);

}  // namespace rampart::editor
