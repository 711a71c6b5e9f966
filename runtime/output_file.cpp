#include "runtime/output_file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cctype>
#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <filesystem>

namespace rampart {
namespace {

constexpr mode_t kNewFileMode = 0666;
constexpr mode_t kPermissions = 0777;

bool is_standard_output(std::string_view path) {
  return path == "-";
}

// More links in a row lead nowhere.
constexpr int kMostLinks = 40;

// What a link leads to, which need not be there yet; empty where links go round in a circle.
std::string target_of(const std::string& path) {
  std::filesystem::path target = path;
  std::error_code unknown;
  for (int i = 0; i < kMostLinks; ++i) {
    if (!std::filesystem::is_symlink(target, unknown)) return target.string();
    target = target.parent_path() / std::filesystem::read_symlink(target, unknown);
  }
  return {};
}

// A name like "t.csv.Xq3z9a" is only readable by its owner: give it the mode a plain new file would have.
void set_usual_mode(int descriptor, const std::string& replaced) {
  struct stat status {};
  const mode_t mask = umask(0);
  umask(mask);
  const bool exists = stat(replaced.c_str(), &status) == 0;
  // A file system without modes refuses; the content is what matters.
  static_cast<void>(fchmod(descriptor, exists ? (status.st_mode & kPermissions) : (kNewFileMode & ~mask)));
}

}  // namespace

OutputFile::OutputFile(std::string path) : path_(std::move(path)) {
  if (is_standard_output(path_)) {
    descriptor_ = STDOUT_FILENO;
    return;
  }
  path_ = target_of(path_);
  if (path_.empty()) {
    fail(ELOOP);
    return;
  }
  struct stat status {};
  const bool exists = stat(path_.c_str(), &status) == 0;
  if (exists && S_ISDIR(status.st_mode)) {
    fail(EISDIR);
    return;
  }
  if (exists && !S_ISREG(status.st_mode)) {
    // A device or pipe cannot be replaced, only written to.
    descriptor_ = open(path_.c_str(), O_WRONLY | O_CLOEXEC);
  } else {
    aside_ = path_ + ".XXXXXX";
    descriptor_ = mkstemp(aside_.data());
    if (descriptor_ >= 0) set_usual_mode(descriptor_, path_);
  }
  if (descriptor_ < 0) {
    aside_.clear();
    fail(errno);
  }
}

OutputFile::~OutputFile() {
  discard();
}

void OutputFile::write(std::string_view text) {
  while (!text.empty() && failure_.empty()) {
    const ssize_t written = ::write(descriptor_, text.data(), text.size());
    if (written >= 0) {
      text.remove_prefix(static_cast<std::size_t>(written));
    } else if (errno != EINTR) {
      fail(errno);
    }
  }
}

bool OutputFile::flush() {
  if (failure_.empty() && !aside_.empty() && fsync(descriptor_) != 0) fail(errno);
  return failure_.empty();
}

bool OutputFile::commit() {
  if (flush() && !aside_.empty()) {
    if (rename(aside_.c_str(), path_.c_str()) != 0) {
      fail(errno);
    } else {
      aside_.clear();
    }
  }
  discard();
  return failure_.empty();
}

void OutputFile::fail(int error_number) {
  failure_ = std::strerror(error_number);
  if (!failure_.empty()) failure_[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(failure_[0])));
}

void OutputFile::discard() {
  if (descriptor_ >= 0 && descriptor_ != STDOUT_FILENO) close(descriptor_);
  descriptor_ = -1;
  if (!aside_.empty()) unlink(aside_.c_str());
  aside_.clear();
}

}  // namespace rampart
