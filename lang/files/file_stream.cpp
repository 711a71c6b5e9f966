#include "lang/files/file_stream.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "lang/files/opened_files.h"

namespace rampart {
namespace {

// Empty for a file.
std::string what_else(mode_t mode) {
  if (S_ISREG(mode)) return {};
  if (S_ISDIR(mode)) return "is a folder";
  if (S_ISFIFO(mode)) return "is a pipe, not a file";
  return S_ISSOCK(mode) ? "is a socket, not a file" : "is a device, not a file";
}

}  // namespace

FileStream open_file(const std::string& path, std::string& why) {
  struct stat status {};
  // Asked first, since to open a device can already do something.
  if (stat(path.c_str(), &status) != 0) {
    why = errno == ENOENT ? "no such file" : std::strerror(errno);
    return nullptr;
  }
  why = what_else(status.st_mode);
  if (!why.empty()) return nullptr;
  // Without waiting, since another thing may stand there by now.
  const int descriptor = open(path.c_str(), O_RDONLY | O_NONBLOCK | O_CLOEXEC);
  if (descriptor < 0) {
    why = std::strerror(errno);
    return nullptr;
  }
  if (fstat(descriptor, &status) == 0) why = what_else(status.st_mode);
  std::FILE* stream = why.empty() ? fdopen(descriptor, "rb") : nullptr;
  if (stream == nullptr) {
    if (why.empty()) why = std::strerror(errno);
    close(descriptor);
    return nullptr;
  }
  note_opened(descriptor, path);
  return FileStream(stream);
}

}  // namespace rampart
