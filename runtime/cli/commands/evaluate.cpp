#include <memory>

#include "runtime/as_run/evaluate.h"
#include "runtime/cli/commands/commands.h"
#include "runtime/cli/commands/log_choice.h"
#include "runtime/cli/json/as_run_json.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/terminal/progress.h"
#include "runtime/cli/text/as_run_text.h"

namespace rampart::cli {
namespace {

struct EvaluateCommand {
  std::string profile;
  LogChoice logs;
  std::string max_late;
  InputOptions input;
  bool corners = false;
  bool json = false;
};

int evaluate_log(const EvaluateCommand& options) {
  as_run::Request request;
  request.logs = options.logs.requests();
  request.corners = options.corners;
  if (!options.max_late.empty()) request.max_late_s = seconds_of("--max-late", options.max_late);
  if (request.max_late_s < 0) throw UsageError{"--max-late", "`" + options.max_late + "` is below 0"};
  Disk disk;
  as_run::Evaluated evaluated =
      as_run::evaluate(disk, options.profile, options.input.compile_options(), request, {.progress = progress_line()});
  int code = evaluated.as_run && evaluated.as_run->passes() ? kDone : kFoundErrors;
  if (evaluated.answer.is_unreadable()) code = kCouldNotRun;
  if (options.json) return print(as_run_document(evaluated)) ? code : kCouldNotRun;
  if (evaluated.as_run && !print_lines(as_run_text(evaluated))) code = kCouldNotRun;
  Answers answers;
  answers.push_back(std::move(evaluated.answer));
  print_findings(answers, false);
  return code;
}

}  // namespace

void add_evaluate(Program& program) {
  auto options = std::make_shared<EvaluateCommand>();
  Command command =
      program.add_command("evaluate", "Compare the log of a run with the reviewed profile and with the prediction");
  command.option("PROFILE", options->profile, "profile that was played").required();
  add_log_choice(command, options->logs, true);
  command
      .option("--max-late", options->max_late,
              "longest delay of a row that still counts as reviewed; default: 100 ms, as in run")
      .value_name("TIME");
  command.flag("--corners", options->corners, "allow for the tolerances of the load too");
  add_input_options(command, options->input);
  command.choice(
      "--format", {"text", "json"}, [options](std::size_t at) { options->json = at == 1; }, "how to write the answer");
  command.footer(
      "Exit code 0 if both verdicts are PASS, 1 if one is FAIL or INCONCLUSIVE, 2 if a file cannot be read.\n"
      "Example: rampart evaluate power-up.ramp --log bench.csv");
  command.action([options] { return evaluate_log(*options); });
}

}  // namespace rampart::cli
