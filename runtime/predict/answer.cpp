#include "runtime/predict/answer.h"

#include "compiler/compile/parameter_ends.h"
#include "lang/findings/files.h"

namespace rampart {

bool Answer::is_unreadable() const {
  return findings.has(finding::Unreadable.wording);
}

Answer answer(Files& files, const std::string& path, const CompileOptions& compile_options,
              const PredictOptions& predict_options, const Job& job) {
  Answer result;
  result.path = path;
  result.compiled = compile(files, path, compile_options, result.findings, job.quietly());
  const LoadPtr load = read_load(result.compiled, files, result.findings);
  result.predictions = predict(result.compiled, load, predict_options, result.findings, job);
  check_parameter_ends(result.compiled, result.findings, job.quietly());
  return result;
}

}  // namespace rampart
