#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>

#include "runtime/cli/choice.h"
#include "runtime/cli/commands.h"
#include "runtime/cli/common.h"
#include "runtime/cli/diff_text.h"

namespace rampart::cli {
namespace {

struct DiffOptions {
  std::string before;
  std::string after;
  std::string folder;
  std::string bench;
  std::string load;
  std::vector<std::string> settings;
  bool json = false;
  bool quiet = false;
};

std::unique_ptr<Compilation> compile_one(const std::string& path, const DiffOptions& options) {
  CompileOptions compile_options;
  if (!options.bench.empty()) compile_options.bench = options.bench;
  if (!options.load.empty()) compile_options.load = options.load;
  if (!options.folder.empty()) compile_options.folder = options.folder;
  compile_options.settings = options.settings;
  return compile(path, compile_options);
}

// A profile that has no table cannot be compared: what is wrong with it is said.
bool has_table(std::unique_ptr<Compilation>& compilation) {
  if (compilation->run && !compilation->unreadable) return true;
  Compilations failed;
  failed.push_back(std::move(compilation));
  print_findings(failed, false);
  return false;
}

int run_diff(const DiffOptions& options) {
  std::unique_ptr<Compilation> before = compile_one(options.before, options);
  std::unique_ptr<Compilation> after = compile_one(options.after, options);
  if (!has_table(before) || !has_table(after)) return kCouldNotRun;
  const diff::ProfileDifference difference = diff::compare_profiles(*before, *after);
  if (!options.quiet) {
    const std::string text =
        options.json ? diff_document(*before, *after, difference) : diff_text(*before, *after, difference);
    if (!print(text)) return kCouldNotRun;
  }
  return difference.any() ? kFoundErrors : kDone;
}

}  // namespace

void add_diff(CLI::App& program, int& result) {
  auto options = std::make_shared<DiffOptions>();
  CLI::App* command = program.add_subcommand("diff", "Say what changes on the bench from one profile to another");
  command->add_option("OLD", options->before, "profile as it was")->required();
  command->add_option("NEW", options->after, "profile as it is")->required();
  command
      ->add_option("--folder", options->folder, "folder that paths in both profiles start from, instead of their own")
      ->type_name("FOLDER");
  command->add_option("--bench", options->bench, "bench file to use instead of the profiles'")->type_name("FILE");
  command->add_option("--load", options->load, "load file to use instead of the profiles'")->type_name("FILE");
  command->add_option("--set", options->settings, "give a parameter of both another value")
      ->type_name("NAME=VALUE")
      ->take_all()
      ->allow_extra_args(false);
  add_choice(
      *command, "--format", {"text", "json"}, [options](std::size_t at) { options->json = at == 1; },
      "how to write the answer");
  command->add_flag("--quiet", options->quiet, "say nothing; the exit code tells");
  command->footer(
      "Exit code 1 where something differs on the bench. Layout, names and comments are no difference.\n"
      "Example: rampart diff old/power-up.ramp power-up.ramp");
  command->callback([options, &result] { result = run_diff(*options); });
}

}  // namespace rampart::cli
