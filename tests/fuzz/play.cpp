// A table as `run` reads it: what passes all checks before a run is read to its end.
#include "compiler/export/sha256.h"
#include "lang/files/files.h"
#include "runtime/bench_run/audited_table.h"
#include "runtime/bench_run/dry_run.h"
#include "runtime/bench_run/plan.h"
#include "runtime/link/link.h"
#include "tests/fuzz/check.h"
#include "tests/fuzz/samples.h"
#include "tests/fuzz/targets.h"

namespace rampart::fuzz {
namespace {

constexpr const char* kLink = R"(link: Two channels
supplies:
  left:
    tcp: {address: 127.0.0.1, port: 1}
    serial_number: S1
    channels: {ch1: 1, ch2: 2}
    lines: {ready: 1, start: 2}
    by_hand: [fuse, overpower, links, sense]
    messages: {line_high: "LINE{line} ON", line_low: "LINE{line} OFF", line_state: "LINE{line}?"}
)";

// With the digest of what stands above it, so that a change of the table is not all that is found.
std::string with_digest(std::string table) {
  const std::size_t line = table.rfind("\n  \"above_sha256\": \"");
  if (line == std::string::npos) return table;
  return table.substr(0, line + 1) + "  \"above_sha256\": \"" + sha256_of(table.substr(0, line + 1)) + "\"\n}\n";
}

// Of the last file that the table names, as if that were the bench.
std::string some_digest(const std::string& table) {
  constexpr std::string_view kKey = "\"sha256\": \"";
  const std::size_t at = table.rfind(kKey, table.find("\"segments\""));
  return at == std::string::npos ? std::string() : table.substr(at + kKey.size(), 64);
}

class PlainView : public bench_run::DryRunView {
 public:
  void phase(const std::string& name) override { check_plain(name, "a phase"); }
  void message(std::optional<Nanoseconds> /*time*/, const std::string& supply, const std::string& text) override {
    check_plain(supply + text, "a message");
  }
  void instant(Nanoseconds /*time*/, const std::string& what) override { check_plain(what, "an instant"); }
  void wait(const bench_run::TableWait& wait) override {
    if (const auto* person = std::get_if<bench_run::OperatorWait>(&wait.what)) check_plain(person->prompt, "a prompt");
    if (const auto* term = std::get_if<bench_run::ConditionWait>(&wait.what)) check_plain(term->text, "a condition");
  }
};

}  // namespace

void play(std::string_view texts) {
  const std::vector<std::string> parts = parts_of(texts);
  const std::string table = with_digest(parts[0]);
  FindingSink findings;
  const std::optional<Bench> bench =
      read_bench(findings.texts(), findings.texts().add("b.bench.yaml", part(parts, 1, kBench)), findings);
  const std::optional<link::Link> link =
      link::read_link(findings.texts(), findings.texts().add("s.link.yaml", part(parts, 2, kLink)), findings);
  if (!bench || !link) return;
  HeldTexts files;
  files.hold("t.json", table);
  std::string why;
  const FileStream stream = files.open("t.json", why);
  std::vector<bench_run::Refusal> refusals;
  bench_run::audit_for_run(stream.get(), "t.json", *bench, some_digest(table), findings, refusals);
  check_findings(findings);
  if (findings.has_errors() || !refusals.empty()) return;
  const bench_run::Plan plan = bench_run::make_plan(stream.get(), *bench, *link, refusals);
  if (!refusals.empty()) return;
  PlainView view;
  require(bench_run::dry_run(stream.get(), plan, view).empty(), "what can be planned is read to its end");
}

}  // namespace rampart::fuzz
