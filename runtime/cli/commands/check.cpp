#include <memory>

#include "runtime/cli/commands/commands.h"
#include "runtime/cli/json/json.h"
#include "runtime/cli/json/sarif.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/shared/list_choice.h"
#include "runtime/cli/text/headline_text.h"

namespace rampart::cli {
namespace {

struct CheckOptions {
  CommonOptions common;
  std::vector<std::string> profiles;
  bool as_list = false;
  ListOptions list;
};

// The verdict comes before the findings where both go to one terminal.
bool print_text(const Answers& answers, const CheckOptions& options) {
  std::string text;
  for (const Answer& answer : answers) {
    if (answer.is_unreadable()) continue;
    text += answers.size() == 1 ? headline_text(answer, options.common.strict)
                                : verdict_line(answer, options.common.strict);
  }
  const bool written = text.empty() || print_lines(text);
  print_findings(answers, options.common.strict);
  return written;
}

int check(const CheckOptions& options) {
  Answers answers = answer_all(options.profiles, options.common);
  if (options.as_list) {
    for (Answer& answer : answers) {
      static_cast<void>(plan_lists(answer.compiled, options.list, answer.findings));
    }
  }
  const int code = exit_code(answers, options.common.strict);
  switch (options.common.format) {
    case Format::Text:
      return print_text(answers, options) ? code : kCouldNotRun;
    case Format::Json:
      return print(check_document(answers, options.common.strict)) ? code : kCouldNotRun;
    case Format::Sarif:
      return print(sarif_document(answers)) ? code : kCouldNotRun;
  }
  return code;
}

}  // namespace

void add_check(Program& program) {
  auto options = std::make_shared<CheckOptions>();
  Command command = program.add_command("check", "Check profiles, and say what would go wrong on the bench");
  command.option("PROFILE", options->profiles, "profiles to check; - is standard input").required();
  command.choice(
      "--as", {"list"}, [options](std::size_t) { options->as_list = true; },
      "also check that the supplies can play the table by themselves");
  add_ramp_error(command, options->list);
  add_common_options(command, options->common);
  command.footer("Example: rampart check power-up.ramp --bench other.bench.yaml --set margin=3%");
  command.action([options] {
    if (options->list.ramp_error && !options->as_list) {
      throw UsageError{"--ramp-error", "goes with --as list"};
    }
    return check(*options);
  });
}

}  // namespace rampart::cli
