#include "runtime/link/link_lock.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cctype>
#include <cerrno>
#include <cstring>
#include <filesystem>

namespace rampart::link {
namespace {

// A folder that all users of the computer share, so that one user's player excludes another's.
std::string shared_folder() {
  constexpr const char* kUsual = "/run/lock";
  return access(kUsual, W_OK | X_OK) == 0 ? kUsual : "/tmp";
}

// One file for all names of a device.
std::string file_name(const Place& place) {
  std::string text = place_text(place);
  std::error_code unknown;
  if (!std::holds_alternative<TcpPlace>(place)) text = std::filesystem::weakly_canonical(text, unknown).string();
  for (char& c : text) {
    if (std::isalnum(static_cast<unsigned char>(c)) == 0) c = '-';
  }
  return "rampart-" + text + ".lock";
}

}  // namespace

LinkLock::LinkLock(const Place& place) : path_(shared_folder() + "/" + file_name(place)) {
  // Whoever has the lock removes the file before the lock goes: then the file is another one now.
  constexpr int kMostTries = 10;
  for (int tries = 0; tries < kMostTries; ++tries) {
    if (take() || !why_.empty()) return;
  }
  why_ = path_ + ": held by others again and again";
}

// False without a reason: the file was removed meanwhile.
bool LinkLock::take() {
  constexpr mode_t kMode = 0644;
  int descriptor = open(path_.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW);
  if (descriptor < 0 && errno == ENOENT)
    descriptor = open(path_.c_str(), O_RDONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, kMode);
  if (descriptor < 0 && (errno == EEXIST || errno == ENOENT)) return false;
  if (descriptor < 0) {
    why_ = path_ + ": " + std::strerror(errno);
    return false;
  }
  if (flock(descriptor, LOCK_EX | LOCK_NB) != 0) {
    why_ = errno == EWOULDBLOCK ? "another player on this computer holds it" : path_ + ": " + std::strerror(errno);
    close(descriptor);
    return false;
  }
  struct stat held {};
  struct stat named {};
  const bool is_same = fstat(descriptor, &held) == 0 && stat(path_.c_str(), &named) == 0 &&
                       held.st_ino == named.st_ino && held.st_dev == named.st_dev;
  if (!is_same) {
    close(descriptor);
    return false;
  }
  descriptor_ = descriptor;
  return true;
}

LinkLock::~LinkLock() {
  if (descriptor_ < 0) return;
  unlink(path_.c_str());
  close(descriptor_);
}

}  // namespace rampart::link
