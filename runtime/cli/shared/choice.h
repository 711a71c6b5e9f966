#pragma once

#include <functional>
#include <string>
#include <utility>
#include <vector>

namespace CLI {
class App;
class Option;
}  // namespace CLI

namespace rampart::cli {

// An option whose value is one of some words: `choose` is called with the place of the word in `words`. Another word is
// a mistake of usage that says which there are. `help` is followed by the words.
CLI::Option* add_choice(CLI::App& command, const std::string& names, std::vector<std::string> words,
                        std::function<void(std::size_t)> choose, const std::string& help);

}  // namespace rampart::cli
