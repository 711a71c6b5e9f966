#include <cstdio>
#include <memory>
#include <optional>

#include "runtime/as_run/evaluate.h"
#include "runtime/cli/commands/commands.h"
#include "runtime/cli/commands/log_choice.h"
#include "runtime/cli/commands/written_file.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/terminal/progress.h"
#include "runtime/report/page.h"
#include "runtime/support/output_file.h"

namespace rampart::cli {
namespace {

struct ReportOptions {
  CommonOptions common;
  RunChoice run;
  LogChoice logs;
  report::PageDetails details;
  std::string output;
  std::string sweep;  // file that `sweep --format json` has written; empty: none
  std::string profile;
};

// What the logs say, on standard error. The charts are of the run as it was.
as_run::Evaluated evaluate_logs(const ReportOptions& options, Answer& answer) {
  as_run::Request request;
  request.logs = options.logs.requests();
  request.corners = options.common.corners;
  request.curves = true;
  Disk disk;
  as_run::Evaluated evaluated = as_run::evaluate(disk, answer, request, {.progress = progress_line()});
  if (evaluated.as_run && evaluated.as_run->is_found() && answer.predictions.load) {
    record_run(answer.compiled, evaluated.as_played, WaveOverflow::Condense, answer.predictions);
  }
  return evaluated;
}

report::SweepPicture sweep_of(const std::string& path, const Answer& answer) {
  Disk disk;
  std::string why;
  const TextPtr text = disk.read(path, why);
  if (text == nullptr) throw UsageError{"--sweep", path + ": " + why};
  try {
    return report::read_sweep(std::string(text->text()), answer);
  } catch (const report::SweepMistake& mistake) {
    throw UsageError{"--sweep", path + " " + mistake.what};
  }
}

int write_report(const ReportOptions& options) {
  PredictOptions predict_options = options.common.predict_options();
  predict_options.waveforms = WaveOverflow::Condense;
  options.run.put_into(predict_options);
  Answers answers;
  answers.push_back(answer_from_disk(options.profile, options.common.compile_options(), predict_options));
  Answer& answer = answers.front();
  int code = exit_code(answers, options.common.strict);
  if (!print_check(answers, options.common, options.output)) return kCouldNotRun;
  if (answer.compiled.run() == nullptr || code == kCouldNotRun) return code;
  std::optional<as_run::Evaluated> evaluated;
  if (!options.logs.logs.empty()) {
    evaluated = evaluate_logs(options, answer);
    if (evaluated->answer.is_unreadable()) code = kCouldNotRun;
    if (code == kDone && !(evaluated->as_run && evaluated->as_run->passes())) code = kFoundErrors;
  }
  report::PageDetails details = options.details;
  details.strict = options.common.strict;
  if (!options.sweep.empty()) details.sweep = sweep_of(options.sweep, answer);
  if (!may_be_written(options.output)) return kCouldNotRun;
  OutputFile file(options.output);
  file.write(report::report_page(answer, details, evaluated ? &*evaluated : nullptr));
  if (evaluated) {
    Answers of_logs;
    of_logs.push_back(std::move(evaluated->answer));
    print_findings(of_logs, false);
  }
  return file.commit() ? code : could_not_write(options.output, file.failure());
}

}  // namespace

void add_report(Program& program) {
  auto options = std::make_shared<ReportOptions>();
  Command command = program.add_command("report", "Write one HTML page about a profile, for a review");
  command.option("PROFILE", options->profile, "profile to report on; - is standard input").required();
  command.option("-o,--output", options->output, "file to write; - is standard output").value_name("FILE").required();
  add_run_choice(command, options->run);
  add_log_choice(command, options->logs, false);
  command.option("--sweep", options->sweep, "show this sweep of the same files, written by sweep --format json")
      .value_name("FILE");
  command.option("--revision", options->details.revision, "revision of the procedure, for the heading and the sign-off")
      .value_name("TEXT");
  command.option("--device", options->details.device, "unit under test: part, serial number, revision")
      .value_name("TEXT");
  add_common_options(command, options->common);
  command.footer(
      "The page needs no network and no other file. It is also written with errors, if there is a table.\n"
      "With --log it shows the measurements in the same charts, and the answer of evaluate.\n"
      "Examples: rampart report power-up.ramp -o power-up.html\n"
      "          rampart report power-up.ramp --log bench.csv -o as-run.html");
  command.action([options] {
    if (!options->logs.logs.empty() && (!options->run.fault.empty() || !options->run.assert_line.empty())) {
      throw UsageError{"--log", "shows the run as it was: leave out --fault and --assert"};
    }
    return write_report(*options);
  });
}

}  // namespace rampart::cli
