#pragma once

#include <optional>
#include <string>

#include "lang/files/files.h"
#include "runtime/editor/analysis.h"

namespace rampart::editor {

// What is known of the text that someone looks at. After a mistake in it, what was last known to be right goes on
// answering, with its places moved to where they stand now.
struct View {
  std::string path;  // canonical
  TextPtr text;      // as it is now; never null
  FileKind kind{};
  AnalysisPtr now;                     // of the profile that it belongs to; null: it belongs to none
  AnalysisPtr whole;                   // the last one that came to a table; may be `now`, may be null
  TextPtr whole_text;                  // this text as it was then
  PredictionPtr predicted;             // the last one; of `whole`, or of one before
  const SymbolIndex* alone = nullptr;  // the names of a bench or load file that belongs to no profile
};

// A name that stands at a place, and the texts that its spans are of.
struct NameAt {
  const SymbolIndex* index = nullptr;
  SymbolId symbol{};
  Span span;            // in the text as it is now
  bool is_old = false;  // known from before a mistake
};

// The name at an offset of the text; empty where there is none that is known.
[[nodiscard]] std::optional<NameAt> name_at(const View& view, std::uint32_t offset);

// The index that completions and lists of names go by: the one of now, or of before where that has no names to speak
// of.
[[nodiscard]] const SymbolIndex* names_of(const View& view);

// Where a statement stood when the profile was last whole; a span of the text as it is now comes in.
[[nodiscard]] std::optional<Span> whole_span(const View& view, const Span& now);

}  // namespace rampart::editor
