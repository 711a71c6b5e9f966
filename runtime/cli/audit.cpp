#include "runtime/audit/audit.h"

#include <CLI/CLI.hpp>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <memory>

#include "runtime/cli/commands.h"
#include "runtime/cli/common.h"
#include "runtime/cli/json.h"
#include "runtime/cli/sarif.h"

namespace rampart::cli {
namespace {

struct AuditOptions {
  std::string table;
  std::string bench;
  Format format = Format::Text;
  bool strict = false;
};

void report_unreadable(Compilation& work, const std::string& path, const std::string& why) {
  work.unreadable = true;
  work.findings.report(finding::Unreadable, Span{work.sources.add(path, ""), 0, 0}, path, why);
}

void read_bench_file(Compilation& work, const std::string& path) {
  FileText file = read_file(path);
  if (!file.failure.empty()) {
    report_unreadable(work, path, file.failure);
    return;
  }
  const FileId id = work.sources.add(path, std::move(file.text));
  work.bench = read_bench(work.sources, id, work.findings);
}

struct CloseFile {
  void operator()(std::FILE* stream) const { std::fclose(stream); }
};

audit::AuditResult audit_table(Compilation& work) {
  audit::AuditResult result;
  if (work.path == "-") {
    result = audit::audit_csv(stdin, "standard input", *work.bench, work.sources, work.findings);
  } else {
    const std::unique_ptr<std::FILE, CloseFile> stream(std::fopen(work.path.c_str(), "rb"));
    if (!stream) {
      report_unreadable(work, work.path, errno == ENOENT ? "no such file" : std::strerror(errno));
      return result;
    }
    result = audit::audit_csv(stream.get(), work.path, *work.bench, work.sources, work.findings);
  }
  if (!result.read_to_end) report_unreadable(work, work.path, "could not be read to its end");
  return result;
}

int run_audit(const AuditOptions& options) {
  Compilations compilations;
  compilations.push_back(std::make_unique<Compilation>(options.table));
  Compilation& work = *compilations.front();
  read_bench_file(work, options.bench);
  audit::AuditResult result;
  if (work.bench) result = audit_table(work);
  const int code = exit_code(compilations, options.strict);
  switch (options.format) {
    case Format::Text:
      print_findings(compilations, options.strict);
      if (result.left_out > 0)
        std::fprintf(stderr, "and %lld more of the same table\n", static_cast<long long>(result.left_out));
      if (work.bench && !work.unreadable)
        std::fprintf(stderr, "%lld rows held against %s\n", static_cast<long long>(result.rows), options.bench.c_str());
      return code;
    case Format::Json:
      return print(audit_document(work, result.rows, result.left_out)) ? code : kCouldNotRun;
    case Format::Sarif:
      return print(sarif_document(compilations)) ? code : kCouldNotRun;
  }
  return code;
}

}  // namespace

void add_audit(CLI::App& program, int& result) {
  auto options = std::make_shared<AuditOptions>();
  CLI::App* command = program.add_subcommand("audit", "Hold a finished table against a bench, whoever made it");
  command->add_option("TABLE", options->table, "setpoint table in CSV; - is standard input")->required();
  command->add_option("--bench", options->bench, "bench file to hold it against")->type_name("FILE")->required();
  add_format_options(*command, options->format, options->strict);
  command->footer(
      "Knows nothing of the profile and shares no code with the checks of the compiler.\n"
      "Example: rampart audit power-up.csv --bench two-supplies.bench.yaml");
  command->callback([options, &result] { result = run_audit(*options); });
}

}  // namespace rampart::cli
