#include <filesystem>
#include <memory>
#include <string>
#include <string_view>
#include <system_error>
#include <vector>

#include "runtime/cli/commands/commands.h"
#include "runtime/cli/commands/written_file.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/starter/starter.h"
#include "runtime/support/output_file.h"

namespace rampart::cli {
namespace {

constexpr std::string_view kProfileEnding = ".ramp";

// Also true of a link that leads nowhere.
bool is_taken(const std::string& path) {
  std::error_code unknown;
  return std::filesystem::symlink_status(path, unknown).type() != std::filesystem::file_type::not_found;
}

// As a shell takes it.
std::string quoted(const std::string& path) {
  constexpr std::string_view kPlain = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_./";
  if (path.find_first_not_of(kPlain) == std::string::npos) return path;
  std::string text = "'";
  for (const char c : path) text += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return text + "'";
}

int write_all(const std::vector<StarterFile>& files) {
  std::vector<std::unique_ptr<OutputFile>> outputs;
  for (const StarterFile& file : files) {
    outputs.push_back(std::make_unique<OutputFile>(file.name));
    outputs.back()->write(file.text);
    if (!outputs.back()->flush()) return could_not_write(file.name, outputs.back()->failure());
  }
  for (std::size_t i = 0; i < files.size(); ++i) {
    if (!outputs[i]->commit()) return could_not_write(files[i].name, outputs[i]->failure());
  }
  std::string text = "wrote";
  for (const StarterFile& file : files) text += (&file == &files.front() ? " " : ", ") + file.name;
  text += "\nput in the figures of your supplies and your device, then: rampart check " + quoted(files.front().name);
  return print_lines(text + "\n") ? kDone : kCouldNotRun;
}

int make_job(const std::string& path) {
  const std::filesystem::path whole(path);
  std::string name = whole.filename().string();
  if (name.ends_with(kProfileEnding)) name.resize(name.size() - kProfileEnding.size());
  const std::string fault = job_name_fault(name);
  if (!fault.empty()) {
    say("rampart: `" + path + "` cannot name a job: " + fault);
    return kCouldNotRun;
  }
  const std::filesystem::path folder = whole.parent_path();
  std::error_code unknown;
  if (!folder.empty() && !std::filesystem::is_directory(folder, unknown)) {
    return could_not_write(folder.string(), "there is no such folder: make it first");
  }
  std::vector<StarterFile> files = starter_files(name);
  for (StarterFile& file : files) {
    file.name = (folder / file.name).string();
    if (is_taken(file.name)) return could_not_write(file.name, "already exists: choose another name");
  }
  return write_all(files);
}

}  // namespace

void add_new(Program& program) {
  auto path = std::make_shared<std::string>();
  Command command = program.add_command("new", "Write a small profile with its bench and load, to start from");
  command.option("NAME", *path, "name of the three files, without a suffix; may include a folder").required();
  command.footer(
      "Writes NAME.ramp, NAME.bench.yaml and NAME.load.yaml: two rails that come up in order, with comments. They "
      "pass\n"
      "`check`. An existing file is never replaced.\n"
      "Example: rampart new power-up");
  command.action([path] { return make_job(*path); });
}

}  // namespace rampart::cli
