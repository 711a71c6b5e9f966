#include "runtime/cli/shared/template_file.h"

#include "compiler/export/sha256.h"
#include "lang/files/read_text.h"
#include "lang/findings/tables.h"

namespace rampart::cli {

std::optional<TemplateFile> read_template_file(Files& files, const std::string& path, const Compiled& compiled,
                                               FindingSink& findings) {
  const TextPtr file = read_text(files, {path, std::nullopt}, findings);
  if (file == nullptr) return std::nullopt;
  std::optional<TableTemplate> text = read_template(findings.texts(), file->id(), findings);
  if (!text || compiled.run() == nullptr) return std::nullopt;
  if (const std::string missing = missing_part(*text, *compiled.run(), compiled.safe()); !missing.empty()) {
    findings.report(finding::TemplateSyntax, Span{file->id(), 0, 0}, missing);
    return std::nullopt;
  }
  const std::size_t errors = findings.error_count();
  check_exact(*text, *compiled.run(), compiled.safe(), findings);
  if (findings.error_count() > errors) return std::nullopt;
  return TemplateFile{std::move(*text), {path, sha256_of(file->text())}};
}

}  // namespace rampart::cli
