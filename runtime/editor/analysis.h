#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "compiler/compile/compile.h"
#include "compiler/symbols/symbol_index.h"
#include "lang/files/files.h"
#include "runtime/editor/statement_times.h"
#include "runtime/predict/predictions.h"

namespace rampart::editor {

// What is said of a profile at one state of its texts, at once: nothing is simulated.
struct Analysis {
  std::string path;
  FindingSink findings;  // of profile, imports, bench and load, with their texts
  Compiled compiled;
  LoadPtr load;
  std::vector<std::string> files;  // canonical paths of all that was read, or could not be
  SymbolIndex names;
  StatementTimes times;

  [[nodiscard]] const SourceSet& texts() const { return findings.texts(); }
  // The text of a file by its canonical path; null where it is none of this profile's.
  [[nodiscard]] TextPtr text_of(const Files& files, const std::string& canonical) const;
  // Nothing but values and sequences for others to import.
  [[nodiscard]] bool is_library() const;
};
using AnalysisPtr = std::shared_ptr<const Analysis>;

// What a simulation adds.
struct Prediction {
  AnalysisPtr of;
  FindingSink findings;  // all, those of the analysis included
  Predictions predictions;
};
using PredictionPtr = std::shared_ptr<const Prediction>;

// Throws JobStopped.
[[nodiscard]] AnalysisPtr analyse(Files& files, const std::string& path, const Job& job);

// Simulates, and tries the parameters at the ends of their ranges; with `corners` also the ends of all tolerances.
// Throws JobStopped.
[[nodiscard]] PredictionPtr predict(const AnalysisPtr& analysis, bool corners, const Job& job);

// A bench or load file by itself.
enum class FileKind : std::uint8_t { Profile, Bench, Load };
// By its name, and where that says nothing by its first key.
[[nodiscard]] FileKind kind_of_file(std::string_view path, std::string_view text);

struct FileAnalysis {
  FindingSink findings;
  SymbolIndex names;
};
[[nodiscard]] FileAnalysis analyse_file(const TextPtr& text, FileKind kind);

}  // namespace rampart::editor
