#include <unistd.h>

#include "runtime/cli/commands/commands.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/editor/server.h"

namespace rampart::cli {
namespace {

int serve_editor() {
  if (isatty(STDIN_FILENO) != 0) {
    say("rampart: an editor starts language-server, not a person; docs/editors.md says how");
    return kCouldNotRun;
  }
  return editor::serve(STDIN_FILENO, STDOUT_FILENO);
}

}  // namespace

void add_language_server(Program& program) {
  Command command = program.add_command("language-server", "Tell an editor what is wrong while a profile is written");
  command.footer(
      "Speaks the Language Server Protocol 3.17 over standard input and output. An editor starts it; docs/editors.md\n"
      "has the set-up for several.");
  command.action([] { return serve_editor(); });
}

}  // namespace rampart::cli
