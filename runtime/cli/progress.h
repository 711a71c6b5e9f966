#pragma once

#include "runtime/parallel.h"

namespace rampart::cli {

// Tells on standard error how far long work has come: what has passed, how much is done, what remains. Silent for the
// first second, and where standard error is no terminal.
[[nodiscard]] Progress progress_line();

}  // namespace rampart::cli
