#include "runtime/editor/analysis.h"

#include <algorithm>

#include "compiler/bench/bench_symbols.h"
#include "compiler/compile/parameter_ends.h"
#include "compiler/compile/symbols.h"
#include "lang/syntax/ast.h"
#include "runtime/load/load_symbols.h"
#include "runtime/predict/predict.h"

namespace rampart::editor {

TextPtr Analysis::text_of(const Files& files, const std::string& canonical) const {
  for (const TextPtr& text : texts().texts()) {
    if (files.canonical(text->name()) == canonical) return text;
  }
  return nullptr;
}

bool Analysis::is_library() const {
  const ast::Profile* tree = compiled.tree();
  if (tree == nullptr || tree->declarations.empty()) return false;
  return std::all_of(tree->declarations.begin(), tree->declarations.end(), [](const ast::Declaration& one) {
    return std::holds_alternative<ast::Let>(one.what) || std::holds_alternative<ast::Sequence>(one.what) ||
           std::holds_alternative<ast::Import>(one.what) || std::holds_alternative<ast::Title>(one.what);
  });
}

AnalysisPtr analyse(Files& files, const std::string& path, const Job& job) {
  auto result = std::make_shared<Analysis>();
  result->path = path;
  result->compiled = compile(files, path, {}, result->findings, job);
  const std::size_t texts = result->texts().texts().size();
  result->load = read_load(result->compiled, files, result->findings);
  for (const Dependency& file : result->compiled.files()) result->files.push_back(files.canonical(file.path));
  if (result->compiled.load()) result->files.push_back(files.canonical(result->compiled.load()->path));
  job.check();
  result->names = symbols_of(result->compiled);
  // The load is what was read last.
  const bool has_load = result->compiled.load() && result->texts().texts().size() > texts;
  if (has_load) {
    const FileId file = result->texts().texts().back()->id();
    add_load_symbols(result->texts(), file, result->compiled.faults(), result->names);
  }
  job.check();
  result->times = StatementTimes(result->compiled);
  // Put in order here, since many may read it at once.
  static_cast<void>(result->names.occurrences());
  static_cast<void>(result->findings.findings());
  return result;
}

PredictionPtr predict(const AnalysisPtr& analysis, bool corners, const Job& job) {
  auto result = std::make_shared<Prediction>();
  result->of = analysis;
  result->findings = analysis->findings;
  PredictOptions options;
  options.corners = corners;
  result->predictions = rampart::predict(analysis->compiled, analysis->load, options, result->findings, job);
  check_parameter_ends(analysis->compiled, result->findings, job);
  static_cast<void>(result->findings.findings());
  return result;
}

FileKind kind_of_file(std::string_view path, std::string_view text) {
  const auto ends = [path](std::string_view end) { return path.ends_with(end); };
  if (ends(".bench.yaml") || ends(".bench.yml")) return FileKind::Bench;
  if (ends(".load.yaml") || ends(".load.yml")) return FileKind::Load;
  if (!ends(".yaml") && !ends(".yml")) return FileKind::Profile;
  return text.starts_with("load:") || text.find("\nload:") != std::string_view::npos ? FileKind::Load : FileKind::Bench;
}

FileAnalysis analyse_file(const TextPtr& text, FileKind kind) {
  FileAnalysis result;
  const FileId file = result.findings.texts().add(text);
  if (kind == FileKind::Bench) {
    static_cast<void>(read_bench(result.findings.texts(), file, result.findings));
    add_bench_symbols(result.findings.texts(), file, result.names);
  } else {
    static_cast<void>(read_load(result.findings.texts(), file, result.findings));
    add_load_symbols(result.findings.texts(), file, {}, result.names);
  }
  return result;
}

}  // namespace rampart::editor
