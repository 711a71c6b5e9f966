#include <memory>

#include "runtime/cli/commands/commands.h"
#include "runtime/cli/commands/log_choice.h"
#include "runtime/cli/commands/written_file.h"
#include "runtime/cli/json/fit_json.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/terminal/progress.h"
#include "runtime/cli/text/fit_text.h"
#include "runtime/fit/fit.h"
#include "runtime/support/output_file.h"

namespace rampart::cli {
namespace {

struct FitCommand {
  std::string profile;
  LogChoice logs;
  std::string output;
  InputOptions input;
  bool json = false;
};

// Where the file goes to standard output, nothing else does.
int print_fit(const FitCommand& options, fit::Fitted& fitted) {
  const bool is_taken = options.output == "-";
  if (options.json && !is_taken) return print(fit_document(fitted)) ? kDone : kCouldNotRun;
  if (fitted.fit && !is_taken && !print_lines(fit_text(*fitted.fit))) return kCouldNotRun;
  Answers answers;
  answers.push_back(std::move(fitted.answer));
  print_findings(answers, false);
  return kDone;
}

int fit_load(const FitCommand& options) {
  Disk disk;
  fit::Fitted fitted = fit::fit_load(disk, options.profile, options.input.compile_options(), options.logs.requests(),
                                     {.progress = progress_line()});
  int code = fitted.fit && fitted.fit->determined() > 0 ? kDone : kFoundErrors;
  if (fitted.answer.is_unreadable()) code = kCouldNotRun;
  const std::string text = fitted.fit ? fitted.fit->file : std::string();
  const bool may_write = options.output.empty() || !fitted.fit || may_be_written(options.output);
  if (const int printed = print_fit(options, fitted); printed != kDone) return printed;
  if (!may_write) return kCouldNotRun;
  if (options.output.empty() || text.empty()) return code;
  if (code == kFoundErrors) {
    say("rampart: " + options.output + ": nothing could be fitted, so it is not written");
    return code;
  }
  OutputFile file(options.output);
  file.write(text);
  return file.commit() ? code : could_not_write(options.output, file.failure());
}

}  // namespace

void add_fit_load(Program& program) {
  auto options = std::make_shared<FitCommand>();
  Command command = program.add_command("fit-load", "Estimate the values of a load from the log of a run");
  command.option("PROFILE", options->profile, "profile that was played").required();
  add_log_choice(command, options->logs, true);
  command.option("-o,--output", options->output, "load file to write, with the estimates; - is standard output")
      .value_name("FILE");
  add_input_options(command, options->input);
  command.choice(
      "--format", {"text", "json"}, [options](std::size_t at) { options->json = at == 1; }, "how to write the answer");
  command.footer(
      "Values that the load file gives with a tolerance are estimated within it; what the log does not determine "
      "stays.\n"
      "Exit code 1 where nothing could be fitted, 2 where a file cannot be read or written.\n"
      "Example: rampart fit-load power-up.ramp --log bench.csv -o fitted.load.yaml");
  command.action([options] { return fit_load(*options); });
}

}  // namespace rampart::cli
