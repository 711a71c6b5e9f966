#pragma once

#include <string>

namespace CLI {
class App;
class Error;
}  // namespace CLI

namespace rampart::cli {

// What is wrong with a command line that could not be understood, for standard error. `first` is its first argument, or
// empty.
[[nodiscard]] std::string usage_message(const CLI::App& program, const CLI::Error& error, const std::string& first);

}  // namespace rampart::cli
