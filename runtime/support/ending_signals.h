#pragma once

#include <vector>

namespace rampart {

// Signals that end a program from outside unless it takes them, and can be taken; a limit on its processor time, a
// failing mains supply and the real-time signals are among them (POSIX.1-2017, <signal.h>; Linux, signal(7)). SIGPIPE
// is none of them: the writer is told.
[[nodiscard]] const std::vector<int>& signals_from_outside();

}  // namespace rampart
