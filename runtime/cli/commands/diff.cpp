#include <sys/stat.h>

#include <algorithm>
#include <memory>

#include "runtime/cli/commands/commands.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/text/diff_text.h"

namespace rampart::cli {
namespace {

// More profiles than a command line holds.
constexpr int kMostUsers = 1'000'000;

struct DiffOptions {
  std::string before;
  std::string after;
  std::string folder;
  std::string name;
  std::string bench;
  std::string load;
  std::vector<std::string> settings;
  std::vector<std::string> users;
  bool json = false;
  bool quiet = false;
};

std::unique_ptr<Compilation> compile_one(const std::string& path, const DiffOptions& options,
                                         const std::optional<StandIn>& stand_in = std::nullopt) {
  CompileOptions compile_options;
  if (!options.bench.empty()) compile_options.bench = options.bench;
  if (!options.load.empty()) compile_options.load = options.load;
  if (!options.folder.empty() && !stand_in) compile_options.folder = options.folder;
  compile_options.settings = options.settings;
  compile_options.stand_in = stand_in;
  return compile(path, compile_options);
}

bool is_null_device(const std::string& path) {
  struct stat status {};
  struct stat null {};
  return stat(path.c_str(), &status) == 0 && stat("/dev/null", &null) == 0 && S_ISCHR(status.st_mode) &&
         status.st_rdev == null.st_rdev;
}

// A file without a byte, or the null device, stands for no profile: one that was added or removed.
bool is_nothing(const std::string& path) {
  if (path == "-") return false;
  if (is_null_device(path)) return true;
  const FileText file = read_file(path);
  return file.failure.empty() && file.text.empty();
}

bool has_table(const Compilation& compilation) {
  return compilation.run && !compilation.unreadable;
}

// A profile that has no table cannot be compared: what is wrong with it is said.
void say_broken(std::unique_ptr<Compilation> compilation, const std::string& name, const char* which) {
  if (!name.empty()) say(name + ": the " + which + " profile has no table to compare");
  Compilations failed;
  failed.push_back(std::move(compilation));
  print_findings(failed, false);
}

int answer(const std::string& text, bool differs, const DiffOptions& options) {
  if (!options.quiet) {
    const bool has_heading = !options.name.empty() && !options.json;
    const std::string heading = options.name + (text.empty() ? ": nothing changes on the bench\n" : "\n");
    if (!(options.json ? print(text) : print_lines(has_heading ? heading + text : text))) return kCouldNotRun;
  }
  return differs ? kFoundErrors : kDone;
}

int answer_one_sided(const DiffOptions& options, bool is_new) {
  std::unique_ptr<Compilation> only = compile_one(is_new ? options.after : options.before, options);
  if (!has_table(*only)) {
    if (options.json && !options.quiet) {
      Compilation nothing(is_new ? options.before : options.after);
      const std::string document = is_new ? broken_document(nothing, *only) : broken_document(*only, nothing);
      static_cast<void>(print(document));
    } else {
      say_broken(std::move(only), options.name, is_new ? "new" : "old");
    }
    return kCouldNotRun;
  }
  return answer(
      options.json ? one_sided_document(options.before, options.after, *only, is_new) : one_sided_text(*only, is_new),
      true, options);
}

int compare(std::unique_ptr<Compilation> before, std::unique_ptr<Compilation> after, const DiffOptions& options) {
  if (!has_table(*before) || !has_table(*after)) {
    if (options.json) {
      if (!options.quiet) static_cast<void>(print(broken_document(*before, *after)));
      return kCouldNotRun;
    }
    if (!has_table(*before)) say_broken(std::move(before), options.name, "old");
    if (!has_table(*after)) say_broken(std::move(after), options.name, "new");
    return kCouldNotRun;
  }
  const diff::ProfileDifference difference = diff::compare_profiles(*before, *after);
  return answer(options.json ? diff_document(*before, *after, difference) : diff_text(*before, *after, difference),
                difference.any(), options);
}

bool uses(const Compilation& compilation, const std::string& path) {
  for (std::uint32_t i = 0; i < compilation.sources.size(); ++i) {
    if (is_same_file(compilation.sources[FileId{i}].name(), path)) return true;
  }
  return false;
}

// Compares each profile that uses the file called `name` with what it was when that file had the text of the old one.
// Empty if there is none.
std::optional<int> compare_users(const DiffOptions& options) {
  std::optional<int> worst;
  for (const std::string& user : options.users) {
    if (is_same_file(user, options.name)) continue;
    std::unique_ptr<Compilation> before = compile_one(user, options, StandIn{options.name, options.before});
    if (!uses(*before, options.name)) continue;
    std::unique_ptr<Compilation> after = compile_one(user, options, StandIn{options.name, options.after});
    DiffOptions one = options;
    one.name = user + " (uses " + options.name + ")";
    worst = std::max(worst.value_or(kDone), compare(std::move(before), std::move(after), one));
  }
  return worst;
}

int run_diff(const DiffOptions& options) {
  const std::optional<int> of_users = compare_users(options);
  const bool no_old = is_nothing(options.before);
  const bool no_new = is_nothing(options.after);
  if (no_old != no_new) {
    const std::unique_ptr<Compilation> only = compile_one(no_old ? options.after : options.before, options);
    if (of_users && !has_table(*only)) return *of_users;
    return std::max(of_users.value_or(kDone), answer_one_sided(options, no_old));
  }
  std::unique_ptr<Compilation> before = compile_one(options.before, options);
  std::unique_ptr<Compilation> after = compile_one(options.after, options);
  // A file that others use and that plays nothing by itself.
  if (of_users && !has_table(*before) && !has_table(*after)) return *of_users;
  return std::max(of_users.value_or(kDone), compare(std::move(before), std::move(after), options));
}

}  // namespace

void add_diff(Program& program) {
  auto options = std::make_shared<DiffOptions>();
  Command command = program.add_command("diff", "Say what changes on the bench from one profile to another");
  command.option("OLD", options->before, "profile as it was").required();
  command.option("NEW", options->after, "profile as it is").required();
  command.option("--folder", options->folder, "folder that paths in both profiles start from, instead of their own")
      .value_name("FOLDER");
  command.option("--name", options->name, "what to call the two in a heading, as where several are compared")
      .value_name("NAME");
  command.option("--bench", options->bench, "bench file to use instead of the profiles'").value_name("FILE");
  command.option("--load", options->load, "load file to use instead of the profiles'").value_name("FILE");
  command.option("--set", options->settings, "give a parameter of both another value")
      .value_name("NAME=VALUE")
      .one_value_each_time();
  command
      .option("--users", options->users,
              "profiles, of which those that use the file called NAME are compared with its old and new text")
      .value_name("FILE...")
      .up_to(kMostUsers);
  command.choice(
      "--format", {"text", "json"}, [options](std::size_t at) { options->json = at == 1; }, "how to write the answer");
  command.flag("--quiet", options->quiet, "say nothing; the exit code tells");
  command.footer(
      "Exit code 1 where something differs on the bench. Layout, names and comments are no difference.\n"
      "Example: rampart diff old/power-up.ramp power-up.ramp");
  command.action([options] {
    if (!options->users.empty() && options->name.empty()) throw UsageError{"--users", "goes with --name"};
    if (!options->users.empty() && options->json) throw UsageError{"--users", "goes with --format text"};
    return run_diff(*options);
  });
}

}  // namespace rampart::cli
