#include "lang/files/files.h"
#include "runtime/audit/audit.h"
#include "runtime/audit/recorded_setup.h"
#include "tests/fuzz/check.h"
#include "tests/fuzz/samples.h"
#include "tests/fuzz/targets.h"

namespace rampart::fuzz {

void table(std::string_view texts) {
  const std::vector<std::string> parts = parts_of(texts);
  HeldTexts files;
  files.hold("t", parts[0]);
  files.hold("t.setup.json", part(parts, 1, ""));
  FindingSink findings;
  const FileId bench_file = findings.texts().add("b.bench.yaml", part(parts, 2, kBench));
  const std::optional<Bench> bench = read_bench(findings.texts(), bench_file, findings);
  if (!bench) return;
  std::string why;
  std::optional<audit::Record> beside;
  if (parts.size() > 1) {
    beside = audit::read_record(files.open("t.setup.json", why).get(), why);
    if (!why.empty()) beside.reset();
  }
  const FileStream stream = files.open("t", why);
  const audit::AuditResult result =
      audit::audit_table(stream.get(), "t", *bench, beside ? &*beside : nullptr, findings.texts(), findings);
  const audit::Record& record = result.record.has_setup || !beside ? result.record : *beside;
  audit::check_setup(record, *bench, Span{findings.texts().add("t.setup.json", ""), 0, 0}, findings);
  check_findings(findings);
}

}  // namespace rampart::fuzz
