#include <CLI/CLI.hpp>
#include <algorithm>
#include <csignal>
#include <cstdio>
#include <iterator>
#include <new>
#include <sstream>
#include <string>
#include <string_view>

#include "lang/text/character.h"
#include "lang/text/version.h"
#include "runtime/cli/commands/commands.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/shared/standard_streams.h"
#include "runtime/cli/shared/usage.h"
#include "runtime/support/output_file.h"

namespace {

constexpr const char* kFooter =
    "A profile says what each rail of a device does over time, a bench what the supplies can do, a load what the\n"
    "device looks like to them.\n"
    "\n"
    "Examples:\n"
    "  rampart check power-up.ramp\n"
    "  rampart build power-up.ramp --as csv -o power-up.csv\n"
    "  rampart simulate power-up.ramp --format json\n"
    "  rampart report power-up.ramp -o power-up.html\n"
    "\n"
    "Exit codes: 0 nothing at error level, 1 findings at error level, 2 could not run.\n"
    "A profile that passes is no substitute for an emergency stop, for local rules, or for qualified people.";

struct Command {
  std::string_view name;
  void (*add)(CLI::App& program, int& result);
};

constexpr Command kCommands[] = {{"check", rampart::cli::add_check},       {"build", rampart::cli::add_build},
                                 {"simulate", rampart::cli::add_simulate}, {"report", rampart::cli::add_report},
                                 {"audit", rampart::cli::add_audit},       {"diff", rampart::cli::add_diff},
                                 {"format", rampart::cli::add_format},     {"explain", rampart::cli::add_explain}};

// To describe all commands takes longer than to run a short one: where the first argument names one, only that is
// there. The version is told without any.
void add_commands(CLI::App& program, std::string_view first, int& result) {
  if (first == "--version") return;
  const auto* named = std::find_if(std::begin(kCommands), std::end(kCommands),
                                   [first](const Command& command) { return command.name == first; });
  for (const Command& command : kCommands) {
    if (named == std::end(kCommands) || named == &command) command.add(program, result);
  }
}

int run_program(int argc, char** argv) {
  CLI::App program("Checks, compiles and simulates what each channel of a DC bench supply does over time.", "rampart");
  program.set_version_flag("--version", "rampart " + std::string(rampart::version()), "print the version");
  program.set_help_flag("-h,--help", "print this help");
  program.footer(kFooter);
  program.require_subcommand(1);
  int result = rampart::cli::kDone;
  add_commands(program, argc > 1 ? argv[1] : "", result);
  try {
    program.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    // Help and version come as errors too, with the code 0.
    if (error.get_exit_code() == 0) {
      std::ostringstream text;
      program.exit(error, text, text);
      return rampart::cli::print(text.str()) ? rampart::cli::kDone : rampart::cli::kCouldNotRun;
    }
    const std::string message = rampart::cli::usage_message(program, error, argc > 1 ? argv[1] : "");
    std::fputs(rampart::visible_lines(message).c_str(), stderr);
    return rampart::cli::kCouldNotRun;
  }
  return result;
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
  }
}
