#include "runtime/cli/shared/usage.h"

#include <algorithm>
#include <cctype>

#include "lang/findings/finding.h"

namespace rampart::cli {
namespace {

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

std::string usage_message(const std::vector<std::string>& names, const std::string& first, const std::string& error) {
  const bool is_command = std::find(names.begin(), names.end(), first) != names.end();
  const std::string help = is_command ? "rampart " + first + " --help" : "rampart --help";
  const std::string what = is_command || first.starts_with("-") ? in_our_style(error) : unknown_command(first, names);
  return "rampart: " + what + "\n" + help + " says how it is called\n";
}

}  // namespace rampart::cli
