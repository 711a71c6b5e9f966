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
  std::string name;
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

// A file without a byte, as a null device is, stands for no profile: one that was added or removed.
bool is_nothing(const std::string& path) {
  const FileText file = path == "-" ? FileText{"-", {}} : read_file(path);
  return file.failure.empty() && file.text.empty();
}

// A profile that has no table cannot be compared: what is wrong with it is said.
bool has_table(std::unique_ptr<Compilation>& compilation, const DiffOptions& options, const char* which) {
  if (compilation->run && !compilation->unreadable) return true;
  if (!options.name.empty()) {
    std::fprintf(stderr, "%s: the %s profile has no table to compare\n", options.name.c_str(), which);
  }
  Compilations failed;
  failed.push_back(std::move(compilation));
  print_findings(failed, false);
  return false;
}

int answer(const std::string& text, bool differs, const DiffOptions& options) {
  if (!options.quiet) {
    const bool has_heading = !options.name.empty() && !options.json;
    const std::string heading = options.name + (text.empty() ? ": nothing changes on the bench\n" : "\n");
    if (!print(has_heading ? heading + text : text)) return kCouldNotRun;
  }
  return differs ? kFoundErrors : kDone;
}

int answer_one_sided(const DiffOptions& options, bool is_new) {
  std::unique_ptr<Compilation> only = compile_one(is_new ? options.after : options.before, options);
  if (!has_table(only, options, is_new ? "new" : "old")) return kCouldNotRun;
  return answer(
      options.json ? one_sided_document(options.before, options.after, *only, is_new) : one_sided_text(*only, is_new),
      true, options);
}

int run_diff(const DiffOptions& options) {
  const bool no_old = is_nothing(options.before);
  const bool no_new = is_nothing(options.after);
  if (no_old != no_new) return answer_one_sided(options, no_old);
  std::unique_ptr<Compilation> before = compile_one(options.before, options);
  std::unique_ptr<Compilation> after = compile_one(options.after, options);
  if (!has_table(before, options, "old") || !has_table(after, options, "new")) return kCouldNotRun;
  const diff::ProfileDifference difference = diff::compare_profiles(*before, *after);
  return answer(options.json ? diff_document(*before, *after, difference) : diff_text(*before, *after, difference),
                difference.any(), options);
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
  command->add_option("--name", options->name, "what to call the two in a heading, as where several are compared")
      ->type_name("NAME");
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
