#include "runtime/cli/shared/standard_streams.h"

#include <fcntl.h>
#include <unistd.h>

#include <array>
#include <cerrno>

namespace rampart::cli {

bool hold_standard_streams() {
  for (const int descriptor : std::array{STDIN_FILENO, STDOUT_FILENO, STDERR_FILENO}) {
    if (fcntl(descriptor, F_GETFD) != -1 || errno != EBADF) continue;
    // Open the other way round, so that what is tried with it fails with EBADF: nobody takes lost text for written.
    const int held = open("/dev/null", descriptor == STDIN_FILENO ? O_WRONLY : O_RDONLY);
    // The lowest free number is taken, and those below are all in use by now.
    if (held != descriptor) return false;
  }
  return true;
}

}  // namespace rampart::cli
