#include "runtime/cli/shared/choice.h"

#include <CLI/CLI.hpp>
#include <algorithm>

namespace rampart::cli {
namespace {

// "a", "a or b", "a, b or c"
std::string listed(const std::vector<std::string>& words) {
  std::string text;
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (i > 0) text += i + 1 == words.size() ? " or " : ", ";
    text += words[i];
  }
  return text;
}

}  // namespace

CLI::Option* add_choice(CLI::App& command, const std::string& names, std::vector<std::string> words,
                        std::function<void(std::size_t)> choose, const std::string& help) {
  const std::string list = listed(words);
  const std::string name = names.substr(0, names.find(','));
  const auto take = [words = std::move(words), choose = std::move(choose), list, name](const std::string& word) {
    const auto found = std::find(words.begin(), words.end(), word);
    if (found == words.end()) throw CLI::ValidationError(name, "`" + word + "` is not " + list);
    choose(static_cast<std::size_t>(found - words.begin()));
  };
  return command.add_option_function<std::string>(names, take, help + ": " + list)->type_name("WORD");
}

}  // namespace rampart::cli
