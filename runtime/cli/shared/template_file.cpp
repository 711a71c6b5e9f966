#include "runtime/cli/shared/template_file.h"

#include "compiler/export/sha256.h"
#include "lang/findings/files.h"
#include "lang/findings/tables.h"

namespace rampart::cli {

std::optional<TemplateFile> read_template_file(Compilation& compilation, const std::string& path) {
  FileText file = read_file(path);
  if (!file.failure.empty()) {
    compilation.unreadable = true;
    const Span place{compilation.sources.add(path, ""), 0, 0};
    compilation.findings.report(finding::Unreadable, place, path, file.failure);
    return std::nullopt;
  }
  const FileId id = compilation.sources.add(path, std::move(file.text));
  std::optional<TableTemplate> text = read_template(compilation.sources, id, compilation.findings);
  if (!text || !compilation.run) return std::nullopt;
  const Table* safe = compilation.safe ? &*compilation.safe : nullptr;
  if (const std::string missing = missing_part(*text, *compilation.run, safe); !missing.empty()) {
    compilation.findings.report(finding::TemplateSyntax, Span{id, 0, 0}, missing);
    return std::nullopt;
  }
  const std::size_t errors = compilation.findings.error_count();
  check_exact(*text, *compilation.run, safe, compilation.findings);
  if (compilation.findings.error_count() > errors) return std::nullopt;
  return TemplateFile{std::move(*text), {path, sha256_of(compilation.sources[id].text())}};
}

}  // namespace rampart::cli
