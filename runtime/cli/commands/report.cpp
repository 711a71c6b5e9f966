#include <cstdio>
#include <memory>

#include "runtime/cli/commands/commands.h"
#include "runtime/cli/commands/written_file.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/report/page.h"
#include "runtime/support/output_file.h"

namespace rampart::cli {
namespace {

struct ReportOptions {
  CommonOptions common;
  RunChoice run;
  report::PageDetails details;
  std::string output;
  std::string profile;
};

int write_report(const ReportOptions& options) {
  PredictOptions predict_options = options.common.predict_options();
  predict_options.waveforms = WaveOverflow::Condense;
  options.run.put_into(predict_options);
  Answers answers;
  answers.push_back(answer_from_disk(options.profile, options.common.compile_options(), predict_options));
  const Answer& answer = answers.front();
  const int code = exit_code(answers, options.common.strict);
  if (!print_check(answers, options.common, options.output)) return kCouldNotRun;
  if (answer.compiled.run() == nullptr || code == kCouldNotRun) return code;
  if (!may_be_written(answer.findings.texts(), options.output)) return kCouldNotRun;
  report::PageDetails details = options.details;
  details.strict = options.common.strict;
  OutputFile file(options.output);
  file.write(report::report_page(answer, details));
  return file.commit() ? code : could_not_write(options.output, file.failure());
}

}  // namespace

void add_report(Program& program) {
  auto options = std::make_shared<ReportOptions>();
  Command command = program.add_command("report", "Write one HTML page about a profile, for a review");
  command.option("PROFILE", options->profile, "profile to report on; - is standard input").required();
  command.option("-o,--output", options->output, "file to write; - is standard output").value_name("FILE").required();
  add_run_choice(command, options->run);
  command.option("--revision", options->details.revision, "revision of the procedure, for head and sign-off")
      .value_name("TEXT");
  command.option("--device", options->details.device, "unit under test: part, serial number, revision")
      .value_name("TEXT");
  add_common_options(command, options->common);
  command.footer(
      "The page needs no network and no other file. It is also written with errors, if there is a table.\n"
      "Example: rampart report power-up.ramp -o power-up.html");
  command.action([options] { return write_report(*options); });
}

}  // namespace rampart::cli
