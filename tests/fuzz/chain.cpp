// From the texts of a job to its table and what it will do.
#include "compiler/bench/bench.h"
#include "compiler/compile/symbols.h"
#include "compiler/export/csv.h"
#include "compiler/export/json_table.h"
#include "compiler/export/list.h"
#include "compiler/export/list_plan.h"
#include "compiler/export/spice.h"
#include "compiler/export/vcd.h"
#include "compiler/symbols/symbol_index.h"
#include "lang/files/files.h"
#include "runtime/audit/audit.h"
#include "runtime/audit/recorded_setup.h"
#include "runtime/predict/answer.h"
#include "runtime/predict/origin.h"
#include "tests/fuzz/check.h"
#include "tests/fuzz/samples.h"
#include "tests/fuzz/short_sink.h"
#include "tests/fuzz/targets.h"

namespace rampart::fuzz {
namespace {

// What the compiler passes, the audit passes, which shares no code with its checks.
void check_audit(const std::string& text, const Bench& bench) {
  HeldTexts files;
  files.hold("t", text);
  std::string why;
  const FileStream stream = files.open("t", why);
  FindingSink findings;
  const audit::AuditResult result = audit::audit_table(stream.get(), "t", bench, nullptr, findings.texts(), findings);
  if (result.record.has_setup)
    audit::check_setup(result.record, bench, Span{findings.texts().add("t", ""), 0, 0}, findings);
  check_findings(findings);
  for (const Finding& one : findings.findings()) {
    require(one.severity != Severity::Error, "what passes the compiler passes the audit: " + one.message);
  }
}

void export_all(const Answer& answer) {
  const Compiled& compiled = answer.compiled;
  const Table& run = *compiled.run();
  const bool is_clean = !answer.findings.has_errors();
  for (const RowForm form : {RowForm::Changes, RowForm::Instants}) {
    ShortSink csv;
    write_csv(run, compiled.safe(), form, csv);
    if (is_clean && !csv.failed()) check_audit(csv.text(), *compiled.bench());
    ShortSink json;
    write_json(run, compiled.safe(), origin_of(compiled, answer.predictions.load.get()), compiled.texts(), form, json);
    if (is_clean && !json.failed()) check_audit(json.text(), *compiled.bench());
  }
  ShortSink spice;
  write_spice(run, spice);
  check_plain(spice.text(), "a circuit");
  ShortSink vcd;
  write_vcd(run, vcd);
  check_plain(vcd.text(), "a value change dump");
  FindingSink findings;
  if (const std::optional<std::vector<ChannelList>> lists = plan_lists(run, {}, findings)) {
    ShortSink list;
    for (const ChannelList& one : *lists) write_list(run, *lists, (*compiled.bench())[one.channel].supply, list);
    check_plain(list.text(), "a list");
  }
}

}  // namespace

void chain(std::string_view texts) {
  const std::vector<std::string> parts = parts_of(texts);
  HeldTexts files;
  files.hold("p.ramp", parts[0]);
  files.hold("b.bench.yaml", part(parts, 1, kBench));
  files.hold("l.load.yaml", part(parts, 2, kLoad));
  files.hold("i.ramp", part(parts, 3, "let a = 1 V\n"));
  files.hold("w.csv", part(parts, 4, "time_s,voltage_V\n0,0\n1,1\n"));
  CompileOptions options;
  options.bench = "b.bench.yaml";
  options.load = "l.load.yaml";
  const Bounded bounded;
  try {
    const Answer answered = answer(files, "p.ramp", options, {}, bounded.job());
    check_findings(answered.findings);
    static_cast<void>(symbols_of(answered.compiled));
    if (answered.has_table()) export_all(answered);
  } catch (const JobStopped&) {
  }
}

}  // namespace rampart::fuzz
