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
  InputOptions input;
  std::vector<std::string> users;
  bool json = false;
  bool full = false;
  bool quiet = false;
};

// The files of the disk, but that the text of one is taken from another.
class StandIn : public Files {
 public:
  StandIn(std::string path, std::string by) : path_(std::move(path)), by_(std::move(by)) {}

  TextPtr read(const std::string& path, std::string& why) override {
    if (!is_same(path, path_)) return disk_.read(path, why);
    const TextPtr text = disk_.read(by_, why);
    return text != nullptr ? make_text(path, std::string(text->text())) : nullptr;
  }
  FileStream open(const std::string& path, std::string& why) override {
    return disk_.open(is_same(path, path_) ? by_ : path, why);
  }
  [[nodiscard]] std::string canonical(const std::string& path) const override { return disk_.canonical(path); }

 private:
  Disk disk_;
  std::string path_;
  std::string by_;
};

// The old or new profile itself.
Answer answer_side(const std::string& path, const DiffOptions& options) {
  CompileOptions with_folder = options.input.compile_options();
  if (!options.folder.empty()) with_folder.folder = options.folder;
  Disk disk;
  return answer(disk, path, with_folder, {});
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
  std::string why;
  const TextPtr text = Disk().read(path, why);
  return text != nullptr && text->text().empty();
}

// A profile that has no table cannot be compared: what is wrong with it is said.
void say_broken(Answer answer, const std::string& name, const char* which) {
  if (!name.empty()) say(name + ": the " + which + " profile has no table to compare");
  Answers failed;
  failed.push_back(std::move(answer));
  print_findings(failed, false);
}

int print_difference(const std::string& text, bool differs, const DiffOptions& options) {
  if (!options.quiet) {
    const bool has_heading = !options.name.empty() && !options.json;
    const std::string heading = options.name + (text.empty() ? ": nothing changes on the bench\n" : "\n");
    if (!(options.json ? print(text) : print_lines(has_heading ? heading + text : text))) return kCouldNotRun;
  }
  return differs ? kFoundErrors : kDone;
}

int answer_one_sided(const DiffOptions& options, bool is_new) {
  Answer only = answer_side(is_new ? options.after : options.before, options);
  if (!only.has_table()) {
    if (options.json && !options.quiet) {
      Answer nothing;
      nothing.path = is_new ? options.before : options.after;
      const std::string document = is_new ? broken_document(nothing, only) : broken_document(only, nothing);
      static_cast<void>(print(document));
    } else {
      say_broken(std::move(only), options.name, is_new ? "new" : "old");
    }
    return kCouldNotRun;
  }
  return print_difference(
      options.json ? one_sided_document(options.before, options.after, only, is_new) : one_sided_text(only, is_new),
      true, options);
}

int compare(Answer before, Answer after, const DiffOptions& options) {
  if (!before.has_table() || !after.has_table()) {
    if (options.json) {
      if (!options.quiet) static_cast<void>(print(broken_document(before, after)));
      return kCouldNotRun;
    }
    if (!before.has_table()) say_broken(std::move(before), options.name, "old");
    if (!after.has_table()) say_broken(std::move(after), options.name, "new");
    return kCouldNotRun;
  }
  const diff::ProfileDifference difference = diff::compare_profiles(before, after);
  return print_difference(
      options.json ? diff_document(before, after, difference) : diff_text(before, after, difference, options.full),
      difference.any(), options);
}

bool uses(const Answer& answer, const std::string& path) {
  const std::vector<TextPtr>& texts = answer.findings.texts().texts();
  return std::any_of(texts.begin(), texts.end(),
                     [&](const TextPtr& text) { return Disk().is_same(text->name(), path); });
}

// Compares each profile that uses the file called `name` with what it was when that file had the text of the old one.
// Empty if there is none.
std::optional<int> compare_users(const DiffOptions& options) {
  std::optional<int> worst;
  for (const std::string& user : options.users) {
    if (Disk().is_same(user, options.name)) continue;
    StandIn as_it_was(options.name, options.before);
    Answer before = answer(as_it_was, user, options.input.compile_options(), {});
    if (!uses(before, options.name)) continue;
    StandIn as_it_is(options.name, options.after);
    Answer after = answer(as_it_is, user, options.input.compile_options(), {});
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
    const Answer only = answer_side(no_old ? options.after : options.before, options);
    if (of_users && !only.has_table()) return *of_users;
    return std::max(of_users.value_or(kDone), answer_one_sided(options, no_old));
  }
  Answer before = answer_side(options.before, options);
  Answer after = answer_side(options.after, options);
  // A file that others use and that plays nothing by itself.
  if (of_users && !before.has_table() && !after.has_table()) return *of_users;
  return std::max(of_users.value_or(kDone), compare(std::move(before), std::move(after), options));
}

}  // namespace

void add_diff(Program& program) {
  auto options = std::make_shared<DiffOptions>();
  Command command = program.add_command("diff", "Show what changes on the bench from one profile to another");
  command.option("OLD", options->before, "profile as it was").required();
  command.option("NEW", options->after, "profile as it is").required();
  command.option("--folder", options->folder, "folder that paths in both profiles start from, instead of their own")
      .value_name("FOLDER");
  command.option("--name", options->name, "name of the pair in a heading, as when several are compared")
      .value_name("NAME");
  add_input_options(command, options->input, Whose::TwoProfiles);
  command
      .option("--users", options->users,
              "profiles to look through: each one that uses the file NAME is compared with its old and its new text")
      .value_name("FILE...")
      .up_to(kMostUsers);
  command.choice(
      "--format", {"text", "json"}, [options](std::size_t at) { options->json = at == 1; }, "how to write the answer");
  command.flag("--full", options->full, "show up to 20 intervals of each quantity instead of three");
  command.flag("--quiet", options->quiet, "print nothing; see the exit code");
  command.footer(
      "Exit code 1 if something differs on the bench. Layout, names and comments do not count.\n"
      "Example: rampart diff old/power-up.ramp power-up.ramp");
  command.action([options] {
    if (!options->users.empty() && options->name.empty()) throw UsageError{"--users", "goes with --name"};
    if (!options->users.empty() && options->json) throw UsageError{"--users", "goes with --format text"};
    return run_diff(*options);
  });
}

}  // namespace rampart::cli
