#include <algorithm>
#include <csignal>
#include <cstdio>
#include <iterator>
#include <new>
#include <string>
#include <string_view>
#include <system_error>

#include "lang/text/version.h"
#include "runtime/cli/commands/commands.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/shared/standard_streams.h"
#include "runtime/support/output_file.h"

namespace {

constexpr const char* kFooter =
    "A profile says what each rail of a device does over time, a bench what the supplies can do, a load what the\n"
    "device looks like to them.\n"
    "\n"
    "Examples:\n"
    "  rampart new power-up\n"
    "  rampart check power-up.ramp\n"
    "  rampart build power-up.ramp --as csv -o power-up.csv\n"
    "  rampart simulate power-up.ramp --format json\n"
    "  rampart report power-up.ramp -o power-up.html\n"
    "\n"
    "Exit codes: 0 nothing at error level, 1 findings at error level, 2 could not run, 3 an output may be on.\n"
    "A profile that passes does not replace an emergency stop, local rules, or qualified people.";

struct NamedCommand {
  std::string_view name;
  void (*add)(rampart::cli::Program& program);
};

constexpr NamedCommand kCommands[] = {{"new", rampart::cli::add_new},
                                      {"check", rampart::cli::add_check},
                                      {"build", rampart::cli::add_build},
                                      {"simulate", rampart::cli::add_simulate},
                                      {"report", rampart::cli::add_report},
                                      {"run", rampart::cli::add_run},
                                      {"off", rampart::cli::add_off},
                                      {"evaluate", rampart::cli::add_evaluate},
                                      {"fit-load", rampart::cli::add_fit_load},
                                      {"sweep", rampart::cli::add_sweep},
                                      {"audit", rampart::cli::add_audit},
                                      {"diff", rampart::cli::add_diff},
                                      {"format", rampart::cli::add_format},
                                      {"explain", rampart::cli::add_explain},
                                      {"language-server", rampart::cli::add_language_server}};

// To describe all commands takes longer than to run a short one: where the first argument names one, only that is
// there. The version is told without any.
void add_commands(rampart::cli::Program& program, std::string_view first) {
  if (first == "--version") return;
  const auto* named = std::find_if(std::begin(kCommands), std::end(kCommands),
                                   [first](const NamedCommand& command) { return command.name == first; });
  for (const NamedCommand& command : kCommands) {
    if (named == std::end(kCommands) || named == &command) command.add(program);
  }
}

int run_program(int argc, char** argv) {
  rampart::cli::Program program("rampart",
                                "Checks, compiles and simulates what each channel of a DC bench supply does over time.",
                                "rampart " + std::string(rampart::version()), kFooter);
  add_commands(program, argc > 1 ? argv[1] : "");
  return program.run(argc, argv);
}

}  // namespace

int main(int argc, char** argv) {
  if (!rampart::cli::hold_standard_streams()) return rampart::cli::kCouldNotRun;
  // A reader that closes its pipe is an output that cannot be written, not a reason to die without a word.
  std::signal(SIGPIPE, SIG_IGN);
  rampart::remove_unfinished_on_signals();
  try {
    return run_program(argc, argv);
  } catch (const std::bad_alloc&) {
    // Unfinished files are gone by now.
    std::fputs("rampart: out of memory\n", stderr);
    return rampart::cli::kCouldNotRun;
  } catch (const std::system_error& failure) {
    // A thread, for which there is no memory or which a limit forbids.
    std::fprintf(stderr, "rampart: the system refuses what is needed: %s\n", failure.what());
    return rampart::cli::kCouldNotRun;
  }
}
