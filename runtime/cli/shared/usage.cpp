#include "runtime/cli/shared/usage.h"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cctype>
#include <vector>

#include "lang/findings/finding.h"

namespace rampart::cli {
namespace {

std::vector<std::string> command_names(const CLI::App& program) {
  std::vector<std::string> names;
  for (const CLI::App* command : program.get_subcommands(nullptr)) names.push_back(command->get_name());
  return names;
}

std::string unknown_command(const std::string& word, const std::vector<std::string>& names) {
  std::string text = "there is no command `" + word + "`";
  const std::string nearest = nearest_name(word, names);
  if (!nearest.empty()) text += ": did you mean `" + nearest + "`?";
  return text;
}

// Words of the library begin as sentences do, unless they begin with a name.
std::string in_our_style(std::string text) {
  if (text.size() > 1 && std::islower(static_cast<unsigned char>(text[1])) != 0) {
    text[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(text[0])));
  } else if (text.starts_with("A ")) {
    text[0] = 'a';
  }
  return text;
}

}  // namespace

std::string usage_message(const CLI::App& program, const CLI::Error& error, const std::string& first) {
  if (first.empty()) return program.help();
  const std::vector<std::string> names = command_names(program);
  const bool is_command = std::find(names.begin(), names.end(), first) != names.end();
  const std::string help = is_command ? "rampart " + first + " --help" : "rampart --help";
  const std::string what =
      is_command || first.starts_with("-") ? in_our_style(error.what()) : unknown_command(first, names);
  return "rampart: " + what + "\n" + help + " says how it is called\n";
}

}  // namespace rampart::cli
