#include <cstdio>
#include <memory>

#include "compiler/export/csv.h"
#include "compiler/export/json_table.h"
#include "compiler/export/list.h"
#include "compiler/export/setup_json.h"
#include "compiler/export/spice.h"
#include "compiler/export/template.h"
#include "compiler/export/vcd.h"
#include "runtime/cli/commands/commands.h"
#include "runtime/cli/commands/written_file.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/shared/file_sink.h"
#include "runtime/cli/shared/list_choice.h"
#include "runtime/cli/shared/template_file.h"
#include "runtime/predict/origin.h"
#include "runtime/support/output_file.h"

namespace rampart::cli {
namespace {

enum class TableFormat { Csv, Json, List, Spice, Vcd, Template };

struct BuildOptions {
  CommonOptions common;
  std::string profile;
  std::string output;
  TableFormat as = TableFormat::Csv;
  RowForm rows = RowForm::Changes;
  ListOptions list;
  std::string supply;         // whose list is written
  std::string template_path;  // with --as template
};

// What a table in one of the formats is made of.
struct Content {
  const Compiled& compiled;
  Origin origin;
  std::vector<ChannelList> lists;  // with --as list
  SupplyId supply{};
  TableTemplate text;  // with --as template
};

void write_table(const Content& content, const BuildOptions& options, DigestSink& sink) {
  const Table& run = *content.compiled.run();
  const Table* safe = content.compiled.safe();
  switch (options.as) {
    case TableFormat::Csv:
      return write_csv(run, safe, options.rows, sink);
    case TableFormat::Json:
      return write_json(run, safe, content.origin, content.compiled.texts(), options.rows, sink);
    case TableFormat::List:
      return write_list(run, content.lists, content.supply, sink);
    case TableFormat::Spice:
      return write_spice(run, sink);
    case TableFormat::Vcd:
      return write_vcd(run, sink);
    case TableFormat::Template:
      return write_template(content.text, run, safe, content.origin, sink);
  }
}

// Writes the table, and beside it what it does not say itself: where it comes from and the set-up before its first row.
// Neither takes its place before both are whole.
int write_files(const Content& content, const BuildOptions& options) {
  OutputFile file(options.output);
  const bool has_digest = options.as == TableFormat::Json || file.is_replaced();
  FileSink sink(file, has_digest ? FileSink::Digest::Taken : FileSink::Digest::None);
  write_table(content, options, sink);
  sink.finish();
  if (!file.flush()) return could_not_write(options.output, file.failure());
  if (options.as != TableFormat::Json && file.is_replaced()) {
    const std::string path = setup_path(options.output);
    OutputFile setup(path);
    setup.write(setup_document(*content.compiled.run(), content.origin, sink.sha256()));
    if (commit_together(setup, file)) return kDone;
    return setup.failure().empty() ? could_not_write(options.output, file.failure())
                                   : could_not_write(path, setup.failure());
  }
  return file.commit() ? kDone : could_not_write(options.output, file.failure());
}

int build(const BuildOptions& options) {
  Answers answers = answer_all({options.profile}, options.common);
  const Compiled& compiled = answers.front().compiled;
  FindingSink& findings = answers.front().findings;
  std::optional<std::vector<ChannelList>> lists;
  if (options.as == TableFormat::List) lists = plan_lists(compiled, options.list, findings);
  std::optional<TemplateFile> text;
  if (options.as == TableFormat::Template) {
    Disk disk;
    text = read_template_file(disk, options.template_path, compiled, findings);
  }
  const int code = exit_code(answers, options.common.strict);
  if (!print_check(answers, options.common, options.output)) return kCouldNotRun;
  if (code != kDone || compiled.run() == nullptr) return code;

  for (const std::string& output : {options.output, setup_path(options.output)}) {
    if (!may_be_written(output)) return kCouldNotRun;
  }
  Content content{compiled, origin_of(compiled, answers.front().predictions.load.get()), {}, {}, {}};
  if (const std::string name = name_not_utf8(content.origin); !name.empty()) {
    return could_not_write(options.output, "its origin cannot name `" + name + "`: the name is not valid UTF-8");
  }
  if (text) {
    content.text = std::move(text->text);
    content.origin.template_file = std::move(text->origin);
  }
  if (lists) {
    std::string why;
    const std::optional<SupplyId> supply = choose_supply(*compiled.bench(), *lists, options.supply, why);
    if (!supply) return could_not_write(options.output, why);
    content.lists = std::move(*lists);
    content.supply = *supply;
  }
  return write_files(content, options);
}

}  // namespace

void add_build(Program& program) {
  auto options = std::make_shared<BuildOptions>();
  Command command = program.add_command("build", "Compile a profile to a setpoint table");
  command.option("PROFILE", options->profile, "profile to compile; - is standard input").required();
  static constexpr TableFormat kFormats[] = {TableFormat::Csv,   TableFormat::Json, TableFormat::List,
                                             TableFormat::Spice, TableFormat::Vcd,  TableFormat::Template};
  command
      .choice(
          "--as", {"csv", "json", "list", "spice", "vcd", "template"},
          [options](std::size_t at) { options->as = kFormats[at]; }, "what to write")
      .required();
  command.option("-o,--output", options->output, "file to write; - is standard output").value_name("FILE").required();
  static constexpr RowForm kForms[] = {RowForm::Changes, RowForm::Instants};
  command.choice(
      "--rows", {"changes", "instants"}, [options](std::size_t at) { options->rows = kForms[at]; },
      "one row for each change of a channel, or one for each instant with all channels side by side");
  command.option("--template", options->template_path, "template file to fill in, with --as template")
      .value_name("FILE");
  add_ramp_error(command, options->list);
  command.option("--supply", options->supply, "supply to write the list for, if several play one").value_name("NAME");
  add_common_options(command, options->common);
  command.footer(
      "The file is written whole or not at all. If there is an error, an older file stays. FILE.setup.json next to it "
      "lists "
      "the\n"
      "protection to set up first and the files that the table was made from; JSON holds both itself.\n"
      "Example: rampart build power-up.ramp --as csv -o power-up.csv");
  command.action([options] {
    const bool has_rows = options->as == TableFormat::Csv || options->as == TableFormat::Json;
    if (options->rows != RowForm::Changes && !has_rows) {
      throw UsageError{"--rows", "goes with --as csv and --as json"};
    }
    if (options->as != TableFormat::List && (options->list.ramp_error || !options->supply.empty())) {
      throw UsageError{options->list.ramp_error ? "--ramp-error" : "--supply", "goes with --as list"};
    }
    if ((options->as == TableFormat::Template) != !options->template_path.empty()) {
      throw UsageError{"--template", "goes with --as template, which needs it"};
    }
    return build(*options);
  });
}

}  // namespace rampart::cli
