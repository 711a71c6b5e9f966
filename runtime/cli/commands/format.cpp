#include <algorithm>
#include <filesystem>
#include <memory>
#include <system_error>

#include "lang/files/read_text.h"
#include "lang/syntax/format.h"
#include "lang/syntax/parse.h"
#include "runtime/cli/commands/commands.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/terminal/terminal.h"
#include "runtime/support/output_file.h"

namespace rampart::cli {
namespace {

struct FormatOptions {
  std::vector<std::string> profiles;
  bool check = false;
};

// A link stays a link: the file it leads to is the one to rewrite.
std::string target_of(const std::string& path) {
  if (path == "-") return path;
  std::error_code error;
  const std::filesystem::path target = std::filesystem::canonical(path, error);
  return error ? path : target.string();
}

bool write_whole(const std::string& path, const std::string& text) {
  OutputFile file(target_of(path));
  file.write(text);
  if (file.commit()) return true;
  say_failure(path, file.failure());
  return false;
}

class Formatter {
 public:
  explicit Formatter(bool check) : check_(check) {}

  void add(const std::string& path) {
    Answer& work = work_.emplace_back();
    work.path = path;
    const TextPtr text = read_text(disk_, {path, std::nullopt}, work.findings);
    if (text == nullptr) return;
    const ast::Profile profile = parse(work.findings.texts(), text->id(), work.findings);
    if (work.findings.has_errors()) return;
    settle(path, text->text(), format_profile(work.findings.texts(), text->id(), profile));
  }

  int finish() {
    const bool found =
        std::any_of(work_.begin(), work_.end(), [](const Answer& work) { return !work.findings.findings().empty(); });
    if (found) print_findings(work_, false);
    // A script gets the names as they are.
    if (!(output_terminal() ? print_lines(changed_) : print(changed_))) could_not_write_ = true;
    const int code = could_not_write_ ? kCouldNotRun : exit_code(work_, false);
    return check_ && !changed_.empty() ? std::max<int>(code, kFoundErrors) : code;
  }

 private:
  void settle(const std::string& path, std::string_view before, const std::string& after) {
    const bool differs = before != after;
    // The text of standard input goes on in any case, so that an editor can put it back.
    const bool writes = !check_ && (differs || path == "-");
    if (writes && !write_whole(path, after)) could_not_write_ = true;
    if (differs && (check_ || path != "-")) changed_ += path + "\n";
  }

  bool check_;
  Disk disk_;
  Answers work_;
  std::string changed_;
  bool could_not_write_ = false;
};

int format_all(const FormatOptions& options) {
  Formatter formatter(options.check);
  for (const std::string& path : options.profiles) formatter.add(path);
  return formatter.finish();
}

}  // namespace

void add_format(Program& program) {
  auto options = std::make_shared<FormatOptions>();
  Command command = program.add_command("format", "Give profiles the standard layout");
  command
      .option("PROFILE", options->profiles,
              "profiles to rewrite in place; - reads standard input and writes standard output")
      .required();
  command.flag("--check", options->check, "change nothing; list what would change, with exit code 1");
  command.footer(
      "Prints the names of the files that change. Comments, values and the order of statements stay; a file with\n"
      "syntax errors is left as it is.\n"
      "Example: rampart format --check power-up.ramp burn-in.ramp");
  command.action([options] { return format_all(*options); });
}

}  // namespace rampart::cli
