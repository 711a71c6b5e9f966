#pragma once

#include <string>

#include "compiler/compile/compile.h"
#include "lang/files/files.h"
#include "lang/findings/finding.h"
#include "lang/job/job.h"
#include "runtime/predict/predict.h"
#include "runtime/predict/predictions.h"

namespace rampart {

// All that is said of one profile.
struct Answer {
  std::string path;
  FindingSink findings;  // with all texts
  Compiled compiled;
  Predictions predictions;

  // A file could not be read at all.
  [[nodiscard]] bool is_unreadable() const;
  // It comes to a table, made from all of its files.
  [[nodiscard]] bool has_table() const { return compiled.run() != nullptr && !is_unreadable(); }
};

// Compiles a profile, predicts what it does to its load, and tries its parameters at the ends of their ranges. Throws
// JobStopped, and PartMistake where parts are not of this work.
[[nodiscard]] Answer answer(Files& files, const std::string& path, const CompileOptions& compile_options,
                            const PredictOptions& predict_options, const Job& job = {});

}  // namespace rampart
