#include "runtime/bench_run/audited_table.h"

#include <algorithm>

#include "lang/findings/runs.h"
#include "lang/findings/tables.h"
#include "runtime/audit/audit.h"
#include "runtime/audit/recorded_setup.h"

namespace rampart::bench_run {

void audit_for_run(std::FILE* table, const std::string& name, const Bench& bench, const std::string& bench_sha256,
                   FindingSink& findings, std::vector<Refusal>& refusals) {
  std::rewind(table);
  const int first = std::getc(table);
  std::rewind(table);
  if (first != '{') {
    refusals.push_back({finding::RunTable.wording.name, "`" + name + "` is not a table in JSON",
                        "build it with `rampart build --as json`"});
    return;
  }
  const audit::AuditResult result = audit::audit_json(table, name, bench, nullptr, findings.texts(), findings);
  if (!result.read_to_end)
    refusals.push_back(
        {finding::RunTable.wording.name, "`" + name + "` could not be read to its end", "check the disk"});
  if (!result.is_document || !result.read_to_end) return;
  const audit::Record& record = result.record;
  if (!record.has_setup) {
    refusals.push_back({finding::RunTable.wording.name,
                        "the table has no set-up, so nothing says which protection was reviewed with it",
                        "build it with `rampart build --as json`"});
    return;
  }
  const Span whole{findings.texts().add(name, ""), 0, 0};
  audit::check_setup(record, bench, whole, findings);
  if (record.above_sha256.empty()) {
    refusals.push_back({finding::RunTable.wording.name,
                        "the table has no digest, so nothing says that it is the one that was reviewed",
                        "build it with `rampart build --as json`, and play it as it was written"});
  } else if (record.above_sha256 != result.sha256_above) {
    findings.report(finding::OriginDiffers, whole, name)
        .hint("its text was changed after it was built: build it again");
  }
  const bool is_bench = std::any_of(record.files.begin(), record.files.end(),
                                    [&](const OriginFile& file) { return file.sha256 == bench_sha256; });
  if (!is_bench) {
    refusals.push_back({finding::RunTable.wording.name, "the table was not built for this bench file",
                        "build it again with this bench"});
  }
}

}  // namespace rampart::bench_run
