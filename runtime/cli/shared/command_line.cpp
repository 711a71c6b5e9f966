#include "runtime/cli/shared/command_line.h"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstdio>
#include <sstream>

#include "lang/text/character.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/shared/usage.h"

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

// An option with a text. A script with a variable that is not set gives an empty one, and does not mean that nothing is
// asked for.
Option with_text(CLI::Option* option) {
  if (!option->nonpositional()) return Option(option);
  return Option(option).checked_by([](const std::string& text) {
    return text.empty() ? "the value is empty: give one, or leave the option out" : std::string();
  });
}

// Runs `work`, whose mistakes of usage become those of the library.
template <class Work>
auto translated(const Work& work) {
  try {
    return work();
  } catch (const UsageError& error) {
    throw CLI::ValidationError(error.option, error.what);
  }
}

}  // namespace

Option& Option::required() {
  option_->required();
  return *this;
}

Option& Option::value_name(const std::string& name) {
  option_->type_name(name);
  return *this;
}

Option& Option::one_value_each_time() {
  option_->take_all()->allow_extra_args(false);
  return *this;
}

Option& Option::up_to(int most) {
  option_->expected(0, most);
  return *this;
}

Option& Option::between(std::int64_t least, std::int64_t most) {
  option_->check(CLI::Range(least, most));
  return *this;
}

Option& Option::checked_by(const std::function<std::string(const std::string&)>& why_not) {
  option_->check(CLI::Validator(why_not, ""));
  return *this;
}

Option& Option::excludes(const Option& other) {
  option_->excludes(other.option_);
  return *this;
}

Option& Option::needs(const Option& other) {
  option_->needs(other.option_);
  return *this;
}

Option Command::option(const std::string& names, std::string& value, const std::string& help) {
  return with_text(command_->add_option(names, value, help));
}

Option Command::option(const std::string& names, std::vector<std::string>& values, const std::string& help) {
  return with_text(command_->add_option(names, values, help));
}

Option Command::option(const std::string& names, std::int64_t& value, const std::string& help) {
  return Option(command_->add_option(names, value, help));
}

Option Command::option(const std::string& names, std::uint64_t& value, const std::string& help) {
  return Option(command_->add_option(names, value, help));
}

Option Command::option(const std::string& names, const std::function<void(const std::string&)>& take,
                       const std::string& help) {
  const auto read = [take](const std::string& text) { translated([&] { take(text); }); };
  return with_text(command_->add_option_function<std::string>(names, read, help));
}

Option Command::choice(const std::string& names, std::vector<std::string> words,
                       std::function<void(std::size_t)> choose, const std::string& help) {
  const std::string list = listed(words);
  const std::string name = names.substr(0, names.find(','));
  const auto take = [words = std::move(words), choose = std::move(choose), list, name](const std::string& word) {
    const auto found = std::find(words.begin(), words.end(), word);
    if (found == words.end()) throw UsageError{name, "`" + word + "` is not " + list};
    choose(static_cast<std::size_t>(found - words.begin()));
  };
  return option(names, take, help + ": " + list).value_name("WORD");
}

Option Command::flag(const std::string& names, bool& value, const std::string& help) {
  return Option(command_->add_flag(names, value, help));
}

void Command::footer(const std::string& text) {
  command_->footer(text);
}

void Command::action(std::function<int()> work) {
  command_->callback([work = std::move(work), result = result_] { *result = translated(work); });
}

Program::Program(const std::string& name, const std::string& purpose, const std::string& version,
                 const std::string& footer)
    : program_(std::make_unique<CLI::App>(purpose, name)) {
  program_->set_version_flag("--version", version, "print the version");
  program_->set_help_flag("-h,--help", "print this help");
  program_->footer(footer);
  program_->require_subcommand(1);
}

Program::~Program() = default;

Command Program::add_command(const std::string& name, const std::string& purpose) {
  return {*program_->add_subcommand(name, purpose), result_};
}

int Program::run(int argc, char** argv) {
  result_ = kDone;
  try {
    program_->parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    // Help and version come as errors too, with the code 0.
    if (error.get_exit_code() == 0) {
      std::ostringstream text;
      program_->exit(error, text, text);
      return print(text.str()) ? kDone : kCouldNotRun;
    }
    const std::string first = argc > 1 ? argv[1] : "";
    std::vector<std::string> names;
    for (const CLI::App* command : program_->get_subcommands(nullptr)) names.push_back(command->get_name());
    const std::string message = first.empty() ? program_->help() : usage_message(names, first, error.what());
    std::fputs(visible_lines(message).c_str(), stderr);
    return kCouldNotRun;
  }
  return result_;
}

}  // namespace rampart::cli
