#include <cstdio>
#include <filesystem>
#include <future>
#include <memory>

#include "lang/files/read_text.h"
#include "lang/findings/files.h"
#include "lang/findings/tables.h"
#include "runtime/audit/audit.h"
#include "runtime/audit/recorded_setup.h"
#include "runtime/cli/commands/commands.h"
#include "runtime/cli/json/json.h"
#include "runtime/cli/json/sarif.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/predict/origin.h"

namespace rampart::cli {
namespace {

struct AuditOptions {
  std::string table;
  std::string bench;
  Format format = Format::Text;
  bool strict = false;
  bool origin = false;
};

// Of a file, or why it cannot be read.
struct FileDigest {
  std::string sha256;
  std::string why;
};

FileDigest digest_of(const std::string& path) {
  FileDigest digest;
  const FileStream stream = Disk().open(path, digest.why);
  if (stream) digest.sha256 = audit::sha256_of(stream.get());
  return digest;
}

// A table on its way through the audit.
struct TableAudit {
  std::string path;
  Disk files;
  FindingSink& findings;
  std::optional<Bench> bench;
  std::future<FileDigest> digest;  // of the table, taken meanwhile if the file beside it knows one

  [[nodiscard]] bool is_unreadable() const { return findings.has(finding::Unreadable.wording); }
};

Span whole_table(TableAudit& work) {
  return Span{work.findings.texts().add(work.path == "-" ? kStandardInput : work.path, ""), 0, 0};
}

void read_bench_file(TableAudit& work, const std::string& path) {
  const TextPtr text = read_text(work.files, {path, std::nullopt}, work.findings);
  if (text != nullptr) work.bench = read_bench(work.findings.texts(), text->id(), work.findings);
}

bool exists(const std::string& path) {
  std::error_code unknown;
  return std::filesystem::exists(path, unknown);
}

audit::AuditResult audit_rows(TableAudit& work, const audit::Record* beside) {
  audit::AuditResult result;
  if (work.path == "-") {
    result = audit::audit_table(stdin, kStandardInput, *work.bench, beside, work.findings.texts(), work.findings);
  } else {
    std::string why;
    const FileStream stream = work.files.open(work.path, why);
    if (!stream) {
      report_unreadable({work.path, std::nullopt}, why, work.findings);
      return result;
    }
    result = audit::audit_table(stream.get(), work.path, *work.bench, beside, work.findings.texts(), work.findings);
  }
  if (!result.read_to_end) report_unreadable({work.path, std::nullopt}, "could not be read to its end", work.findings);
  return result;
}

void compare_file(TableAudit& work, const OriginFile& file, const FileDigest& digest) {
  if (!digest.why.empty()) {
    work.findings.report(finding::OriginUnreadable, whole_table(work), file.name, digest.why)
        .hint("files are looked for as the table names them: run this in the folder where it was built");
  } else if (digest.sha256 != file.sha256) {
    work.findings.report(finding::OriginDiffers, whole_table(work), file.name)
        .hint("build the table again, or get the file as it was then from your version control");
  }
}

// The file beside a table, read before the table is.
struct Beside {
  std::string path;
  bool is_there = false;
  audit::Record record;
  std::string why;  // it is no set-up file; empty if it is one
  [[nodiscard]] const audit::Record* read() const { return is_there && why.empty() ? &record : nullptr; }
};

Beside read_beside(TableAudit& work) {
  Beside beside;
  beside.path = setup_path(work.path);
  beside.is_there = work.path != "-" && exists(beside.path);
  if (!beside.is_there) return beside;
  const FileStream stream = work.files.open(beside.path, beside.why);
  if (stream) beside.record = audit::read_record(stream.get(), beside.why);
  return beside;
}

struct PlacedRecord {
  audit::Record record;
  std::string path;  // of the file that it stands in
};

// What the table says of itself, or the file beside it. Empty, after a finding, where there is none.
std::optional<PlacedRecord> find_record(TableAudit& work, audit::AuditResult& result, Beside& beside, bool is_needed) {
  if (result.record.has_setup) return PlacedRecord{std::move(result.record), work.path};
  if (!beside.is_there && is_needed) {
    work.findings.report(finding::OriginUnknown, whole_table(work), "there is no `" + beside.path + "`");
    return std::nullopt;
  }
  if (!beside.is_there) {
    const std::string missing = work.path == "-" ? "a set-up file" : "`" + beside.path + "`";
    work.findings.report(finding::SetupMissing, whole_table(work), missing)
        .hint("`build` writes it next to the table: keep both together");
    return std::nullopt;
  }
  if (beside.why.empty()) return PlacedRecord{std::move(beside.record), beside.path};
  work.findings.report(finding::SetupBroken, whole_table(work), beside.path, beside.why)
      .hint("correct it, or build the table again: `build` writes both files together");
  return std::nullopt;
}

// A table is to be as it was written, whichever file has its digest.
void check_digest(TableAudit& work, const audit::AuditResult& result, const PlacedRecord& found) {
  const audit::Record& record = found.record;
  const bool is_beside = found.path != work.path;
  if (!record.table_sha256.empty()) {
    compare_file(work, {work.path, record.table_sha256},
                 work.digest.valid() ? work.digest.get() : digest_of(work.path));
  }
  const std::string& above = is_beside ? record.sha256_above : result.sha256_above;
  if (record.above_sha256.empty() || record.above_sha256 == above) return;
  work.findings.report(finding::OriginDiffers, whole_table(work), found.path)
      .hint("its text was changed after it was built: build it again");
}

// Judges what comes with a table. Gives how many files were compared.
std::int64_t check_record(TableAudit& work, audit::AuditResult& result, Beside& beside, bool with_origin) {
  const std::optional<PlacedRecord> found = find_record(work, result, beside, with_origin);
  if (!found) return 0;
  audit::check_setup(found->record, *work.bench, Span{work.findings.texts().add(found->path, ""), 0, 0}, work.findings);
  check_digest(work, result, *found);
  if (!with_origin) return 0;
  if (found->record.table_sha256.empty() && found->record.above_sha256.empty()) {
    work.findings.report(finding::OriginUnknown, whole_table(work), "`" + found->path + "` has no digest of the table");
  }
  if (found->record.files.empty()) {
    work.findings.report(finding::OriginUnknown, whole_table(work), "`" + found->path + "` names no files");
  }
  for (const OriginFile& file : found->record.files) compare_file(work, file, digest_of(file.name));
  return static_cast<std::int64_t>(found->record.files.size());
}

int run_audit(const AuditOptions& options) {
  Answers answers(1);
  answers.front().path = options.table;
  TableAudit work{options.table, {}, answers.front().findings, {}, {}};
  read_bench_file(work, options.bench);
  audit::AuditResult result;
  Beside beside = read_beside(work);
  if (work.bench && beside.read() != nullptr && !beside.record.table_sha256.empty()) {
    // On a thread of its own, or without one when it is asked for.
    work.digest = std::async(std::launch::async | std::launch::deferred, digest_of, work.path);
  }
  if (work.bench) result = audit_rows(work, beside.read());
  std::int64_t compared = 0;
  if (work.bench && !work.is_unreadable() && result.is_document)
    compared = check_record(work, result, beside, options.origin);
  const int code = exit_code(answers, options.strict);
  switch (options.format) {
    case Format::Text:
      print_findings(answers, options.strict);
      if (result.left_out > 0) say("and " + std::to_string(result.left_out) + " more of the same table");
      if (work.bench && !work.is_unreadable())
        say(std::to_string(result.rows) + " rows checked against " + options.bench);
      if (compared > 0) say(std::to_string(compared) + " files compared with the ones that it was made from");
      return code;
    case Format::Json:
      return print(audit_document(answers.front(), result.rows, result.left_out)) ? code : kCouldNotRun;
    case Format::Sarif:
      return print(sarif_document(answers)) ? code : kCouldNotRun;
  }
  return code;
}

}  // namespace

void add_audit(Program& program) {
  auto options = std::make_shared<AuditOptions>();
  Command command = program.add_command("audit", "Check a finished table against a bench, whoever made it");
  command.option("TABLE", options->table, "setpoint table in CSV or JSON; - is standard input").required();
  command.option("--bench", options->bench, "bench file to check it against").value_name("FILE").required();
  command.flag("--origin", options->origin, "compare the files that the table was made from with those that are there");
  add_format_options(command, options->format, options->strict);
  command.footer(
      "Knows nothing of the profile and shares no code with the checks of the compiler.\n"
      "Example: rampart audit power-up.csv --bench two-supplies.bench.yaml");
  command.action([options] {
    if (options->origin && options->table == "-") throw UsageError{"--origin", "needs a table in a file"};
    return run_audit(*options);
  });
}

}  // namespace rampart::cli
