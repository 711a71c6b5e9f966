#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

// NOLINTNEXTLINE(readability-identifier-naming): the library's own name.
namespace CLI {
class App;
class Option;
}  // namespace CLI

// The command line: what may stand on it, and where it goes. The library behind it is seen by one file alone.
namespace rampart::cli {

// The command line asks for something that cannot be: `option` is where, `what` says why.
struct UsageError {
  std::string option;
  std::string what;
};

// An option of a command, or what stands on its line without a name. Each call gives the option itself.
class Option {
 public:
  explicit Option(CLI::Option* option) : option_(option) {}

  Option& required();
  // What stands for its value in the help.
  Option& value_name(const std::string& name);
  // It may be given several times, each time with one value.
  Option& one_value_each_time();
  // It takes 0 to `most` values.
  Option& up_to(int most);
  Option& between(std::int64_t least, std::int64_t most);
  // `why_not` says what is wrong with a value; nothing where it is right.
  Option& checked_by(const std::function<std::string(const std::string&)>& why_not);
  Option& excludes(const Option& other);
  Option& needs(const Option& other);

 private:
  CLI::Option* option_;
};

// One command of the program. `names` are those of an option, "-o,--output", or "PROFILE" for what has none.
class Command {
 public:
  Command(CLI::App& command, int& result) : command_(&command), result_(&result) {}

  Option option(const std::string& names, std::string& value, const std::string& help);
  Option option(const std::string& names, std::vector<std::string>& values, const std::string& help);
  Option option(const std::string& names, std::int64_t& value, const std::string& help);
  Option option(const std::string& names, std::uint64_t& value, const std::string& help);
  // `take` may throw a UsageError.
  Option option(const std::string& names, const std::function<void(const std::string&)>& take, const std::string& help);
  // Its value is one of some words: `choose` is called with the place of the word in `words`. Another word is a mistake
  // of usage that says which there are. `help` is followed by the words.
  Option choice(const std::string& names, std::vector<std::string> words, std::function<void(std::size_t)> choose,
                const std::string& help);
  Option flag(const std::string& names, bool& value, const std::string& help);
  // What stands below the options in the help.
  void footer(const std::string& text);
  // What the command does; it gives the exit code and may throw a UsageError.
  void action(std::function<int()> work);

 private:
  CLI::App* command_;
  int* result_;
};

class Program {
 public:
  Program(const std::string& name, const std::string& purpose, const std::string& version, const std::string& footer);
  ~Program();
  Program(const Program&) = delete;
  Program& operator=(const Program&) = delete;

  Command add_command(const std::string& name, const std::string& purpose);
  // Reads the command line, does what it says and gives the exit code. Help and version go to standard output, what
  // cannot be understood to standard error with kCouldNotRun.
  [[nodiscard]] int run(int argc, char** argv);

 private:
  std::unique_ptr<CLI::App> program_;
  int result_ = 0;
};

}  // namespace rampart::cli
