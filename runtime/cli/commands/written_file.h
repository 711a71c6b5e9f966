#pragma once

#include <string>

#include "runtime/cli/shared/common.h"
#include "runtime/predict/answer.h"

namespace rampart::cli {

// What `check` says of the profiles, before a file is made of them, in the format that is asked for. Where the file
// goes to standard output, this goes to standard error. False, after a message, if it could not be written.
[[nodiscard]] bool print_check(const Answers& answers, const CommonOptions& options, const std::string& output);

// Says on standard error why a file could not be written. Gives the exit code for it.
int could_not_write(const std::string& path, const std::string& failure);

// False, after a message, for a file that was read: to be asked once all is read, and before anything is written.
[[nodiscard]] bool may_be_written(const std::string& path);

}  // namespace rampart::cli
