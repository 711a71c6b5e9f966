#pragma once

#include <string>
#include <vector>

namespace rampart::cli {

// What is wrong with a command line that could not be understood, for standard error: `names` are those of the
// commands, `first` is its first argument, `error` what the library says.
[[nodiscard]] std::string usage_message(const std::vector<std::string>& names, const std::string& first,
                                        const std::string& error);

}  // namespace rampart::cli
