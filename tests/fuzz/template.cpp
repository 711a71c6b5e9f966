#include "compiler/export/template.h"
#include "tests/fuzz/check.h"
#include "tests/fuzz/samples.h"
#include "tests/fuzz/short_sink.h"
#include "tests/fuzz/targets.h"

namespace rampart::fuzz {

void table_template(std::string_view text) {
  const Compiled& compiled = compiled_sample();
  FindingSink findings;
  const FileId file = findings.texts().add("t.template", std::string(text));
  const std::optional<TableTemplate> read = read_template(findings.texts(), file, findings);
  require(read.has_value() == !findings.has_errors(), "a template is read if and only if it has no errors");
  if (read && missing_part(*read, *compiled.run(), compiled.safe()).empty()) {
    check_exact(*read, *compiled.run(), compiled.safe(), findings);
    ShortSink sink;
    if (!findings.has_errors()) write_template(*read, *compiled.run(), compiled.safe(), Origin{}, sink);
  }
  check_findings(findings);
}

}  // namespace rampart::fuzz
