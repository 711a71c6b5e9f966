#include "runtime/sweep/sweep.h"

#include <algorithm>
#include <memory>
#include <utility>

#include "runtime/cli/commands/commands.h"
#include "runtime/cli/json/sweep_json.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/terminal/progress.h"
#include "runtime/cli/text/sweep_csv.h"
#include "runtime/cli/text/sweep_text.h"

namespace rampart::cli {
namespace {

struct SweepCommand {
  std::string profile;
  InputOptions input;
  std::vector<std::string> vary;
  std::vector<std::string> find;
  std::string keep;
  bool nominal = false;
  PartChoice part;
  enum class As : std::uint8_t { Text, Json, Csv } as = As::Text;
};

sweep::Request request_of(const SweepCommand& options) {
  sweep::Request request;
  for (const std::string& text : options.vary) request.vary.push_back(sweep::read_vary(text));
  if (!options.find.empty()) request.find = sweep::read_find(options.find);
  request.demand.corners = !options.nominal;
  if (!options.keep.empty()) request.demand.keep = sweep::read_keep(options.keep);
  request.sharing = options.part.sharing();
  return request;
}

bool all_hold(const sweep::Sweep& result) {
  if (result.map) return result.map->present.holds();
  return std::all_of(result.parameters.begin(), result.parameters.end(),
                     [](const sweep::ParameterSweep& parameter) { return parameter.present.holds(); });
}

int print_sweep(sweep::Sweep result, const sweep::Request& request, SweepCommand::As as) {
  if (result.part) return print(part_document(*result.part)) ? kDone : kCouldNotRun;
  const bool was_swept = !result.parameters.empty() || result.map;
  int code = kFoundErrors;
  if (was_swept && (request.find ? result.best && result.best->confirmed : all_hold(result))) code = kDone;
  if (result.base.is_unreadable()) code = kCouldNotRun;
  if (as == SweepCommand::As::Json) return print(sweep_document(result, request)) ? code : kCouldNotRun;
  if (as == SweepCommand::As::Csv && was_swept) return print(sweep_csv(result)) ? code : kCouldNotRun;
  if (was_swept && !print_lines(sweep_text(result, request))) code = kCouldNotRun;
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
        request, options.as);
  } catch (const sweep::Refused& refused) {
    throw UsageError{refused.option, refused.what};
  } catch (const PartMistake& mistake) {
    throw UsageError{"--join", mistake.what};
  }
}

}  // namespace

void add_sweep(Program& program) {
  auto options = std::make_shared<SweepCommand>();
  Command command = program.add_command("sweep", "Find the range in which each parameter works, and its best value");
  command.option("PROFILE", options->profile, "profile to try at many values; - is standard input").required();
  command
      .option("--vary", options->vary,
              "a parameter and its values, as in --vary \"rise=10ms..2s step 10ms\"; default: all parameters with a "
              "range; two make a map")
      .value_name("NAME=LOW..HIGH")
      .one_value_each_time();
  Option find = command
                    .option("--find", options->find,
                            "find the lowest or highest value of a parameter, `least NAME` or `greatest NAME`, or the "
                            "value with `least duration`, `least energy(RAIL)` or `least energy(total)`")
                    .value_name("WHAT NAME")
                    .up_to(2);
  command.option("--keep", options->keep, "the share of each limit that --find leaves, as in --keep 2%")
      .value_name("SHARE")
      .needs(find);
  command.flag("--nominal", options->nominal, "--find uses the plain run only, not the ends of all tolerances")
      .needs(find);
  add_part_choice(command, options->part);
  add_input_options(command, options->input);
  static constexpr SweepCommand::As kForms[] = {SweepCommand::As::Text, SweepCommand::As::Json, SweepCommand::As::Csv};
  command.choice(
      "--format", {"text", "json", "csv"}, [options](std::size_t at) { options->as = kForms[at]; },
      "how to write the answer");
  command.footer(
      "Varies one parameter at a time, or the two that --vary names against each other. --find also tries tolerances.\n"
      "Exit code 1 if the profile fails at the present values or, with --find, if no value passes.\n"
      "Example: rampart sweep power-up.ramp --find least rise");
  command.action([options] { return sweep_profile(*options); });
}

}  // namespace rampart::cli
