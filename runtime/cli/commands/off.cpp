#include <memory>

#include "lang/files/read_text.h"
#include "runtime/bench_run/output_state.h"
#include "runtime/cli/commands/commands.h"
#include "runtime/cli/json/run_json.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/text/run_text.h"
#include "runtime/link/link.h"

namespace rampart::cli {
namespace {

struct OffOptions {
  std::string link;
  bool is_json = false;
};

int switch_off(const OffOptions& options) {
  Answers answers(1);
  answers.front().path = options.link;
  FindingSink& findings = answers.front().findings;
  Disk files;
  const TextPtr text = read_text(files, {options.link, std::nullopt}, findings);
  const std::optional<link::Link> link = text ? link::read_link(findings.texts(), text->id(), findings) : std::nullopt;
  if (!link) {
    say("nothing was switched off: the link file cannot be used; switch off at the supplies");
    print_findings(answers, false);
    return exit_code(answers, false);
  }
  const std::vector<bench_run::SupplyState> states = bench_run::switch_all_off(*link);
  const bool is_said = options.is_json ? print(final_json(states)) : print_lines(final_text(states));
  if (!bench_run::not_off(states).empty()) return kMayBeOn;
  return is_said ? kDone : kCouldNotRun;
}

}  // namespace

void add_off(Program& program) {
  auto options = std::make_shared<OffOptions>();
  Command command = program.add_command("off", "Switch off all outputs of the supplies in a link file, and read back");
  command.option("--link", options->link, "link file: how each supply is reached").value_name("FILE").required();
  command.choice(
      "--format", {"text", "json"}, [options](std::size_t word) { options->is_json = word == 1; },
      "how the outputs are listed");
  command.footer(
      "For after a crash, or a player that was killed. It needs no table. Not an emergency stop: use hardware.\n"
      "Exit codes: 0 all outputs confirmed off, 1 mistakes in the link file, 2 could not run, 3 an output may be on.\n"
      "Example: rampart off --link two-supplies.link.yaml");
  command.action([options] { return switch_off(*options); });
}

}  // namespace rampart::cli
