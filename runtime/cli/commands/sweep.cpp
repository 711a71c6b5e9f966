#include "runtime/sweep/sweep.h"

#include <algorithm>
#include <memory>
#include <utility>

#include "runtime/cli/commands/commands.h"
#include "runtime/cli/json/sweep_json.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/terminal/progress.h"
#include "runtime/cli/text/sweep_text.h"

namespace rampart::cli {
namespace {

struct SweepCommand {
  std::string profile;
  InputOptions input;
  std::vector<std::string> vary;
  std::vector<std::string> find;
  bool json = false;
};

sweep::Request request_of(const SweepCommand& options) {
  sweep::Request request;
  for (const std::string& text : options.vary) request.vary.push_back(sweep::read_vary(text));
  if (!options.find.empty()) request.find = sweep::read_find(options.find);
  return request;
}

bool all_hold(const sweep::Sweep& result) {
  return std::all_of(result.parameters.begin(), result.parameters.end(),
                     [](const sweep::ParameterSweep& parameter) { return parameter.present.holds(); });
}

int print_sweep(sweep::Sweep result, const sweep::Request& request, bool json) {
  const bool was_swept = !result.parameters.empty();
  int code = kFoundErrors;
  if (was_swept && (request.find ? result.best && result.best->confirmed : all_hold(result))) code = kDone;
  if (result.base.is_unreadable()) code = kCouldNotRun;
  if (json) return print(sweep_document(result, request.find)) ? code : kCouldNotRun;
  if (was_swept && !print_lines(sweep_text(result, request.find))) code = kCouldNotRun;
  if (was_swept && !result.best) return code;
  Answers answers;
  answers.push_back(std::move(was_swept ? result.best->answer : result.base));
  print_findings(answers, false);
  return code;
}

int sweep_profile(const SweepCommand& options) {
  try {
    const sweep::Request request = request_of(options);
    Disk disk;
    return print_sweep(
        sweep::run(disk, options.profile, options.input.compile_options(), request, {.progress = progress_line()}),
        request, options.json);
  } catch (const sweep::Refused& refused) {
    throw UsageError{refused.option, refused.what};
  }
}

}  // namespace

void add_sweep(Program& program) {
  auto options = std::make_shared<SweepCommand>();
  Command command = program.add_command("sweep", "Find the range in which each parameter works, and its best value");
  command.option("PROFILE", options->profile, "profile to try at many values; - is standard input").required();
  command
      .option("--vary", options->vary,
              "a parameter and its values, as in --vary \"rise=10ms..2s step 10ms\"; without it all that have a range")
      .value_name("NAME=LOW..HIGH")
      .one_value_each_time();
  command.option("--find", options->find, "`least NAME` or `greatest NAME`: the value of a parameter; `least duration`")
      .value_name("WHAT NAME")
      .up_to(2);
  add_input_options(command, options->input);
  command.choice(
      "--format", {"text", "json"}, [options](std::size_t at) { options->json = at == 1; }, "how to write the answer");
  command.footer(
      "Parameters are varied one at a time; load and supplies are as their files give them, without tolerances.\n"
      "Exit code 1 if the profile fails as it is or, with --find, if no value passes.\n"
      "Example: rampart sweep power-up.ramp --find least rise");
  command.action([options] { return sweep_profile(*options); });
}

}  // namespace rampart::cli
