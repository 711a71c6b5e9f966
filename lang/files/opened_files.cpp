#include "lang/files/opened_files.h"

#include <sys/stat.h>
#include <unistd.h>

#include <map>
#include <mutex>
#include <utility>

namespace rampart {
namespace {

// Two names or descriptors of one file have the same.
using FileIdentity = std::pair<dev_t, ino_t>;

std::optional<FileIdentity> identity_of(int failed, const struct stat& status) {
  if (failed != 0 || !S_ISREG(status.st_mode)) return std::nullopt;
  return FileIdentity{status.st_dev, status.st_ino};
}

struct Opened {
  std::mutex mutex;
  std::map<FileIdentity, std::string> names;
};

Opened& opened() {
  static Opened files;
  return files;
}

}  // namespace

void note_opened(int descriptor, const std::string& name) {
  struct stat status {};
  const std::optional<FileIdentity> identity = identity_of(fstat(descriptor, &status), status);
  if (!identity) return;
  const std::lock_guard lock(opened().mutex);
  opened().names.emplace(*identity, name);
}

std::optional<std::string> opened_as(const std::string& path) {
  struct stat status {};
  const int failed = path == "-" ? fstat(STDOUT_FILENO, &status) : stat(path.c_str(), &status);
  const std::optional<FileIdentity> identity = identity_of(failed, status);
  if (!identity) return std::nullopt;
  const std::lock_guard lock(opened().mutex);
  const auto found = opened().names.find(*identity);
  return found == opened().names.end() ? std::nullopt : std::optional(found->second);
}

}  // namespace rampart
