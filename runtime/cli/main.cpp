#include <CLI/CLI.hpp>
#include <string>

#include "lang/version.h"

namespace {

constexpr int kCouldNotRun = 2;

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Checks, compiles and simulates what each channel of a DC bench supply does over time.", "rampart");
  app.set_version_flag("--version", "rampart " + std::string(rampart::version()));
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? 0 : kCouldNotRun;
  }
  return 0;
}
