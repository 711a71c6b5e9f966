#include "runtime/support/output_file.h"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <cctype>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <exception>
#include <filesystem>
#include <limits>
#include <thread>
#include <vector>

#include "runtime/support/ending_signals.h"

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

// Names of files that are not finished. The handler of a signal may read them at any time.
constexpr std::size_t kMostUnfinished = 8;
std::array<std::atomic<const char*>, kMostUnfinished> unfinished{};

void add_unfinished(const char* path) {
  for (auto& place : unfinished) {
    const char* none = nullptr;
    if (place.compare_exchange_strong(none, path)) return;
  }
}

void forget_unfinished(const char* path) {
  for (auto& place : unfinished) {
    const char* known = path;
    place.compare_exchange_strong(known, nullptr);
  }
}

// From outside, or for a mistake of the program.
const std::vector<int>& ending_signals() {
  static const std::vector<int> kSignals = [] {
    std::vector<int> all = signals_from_outside();
    all.insert(all.end(), {SIGABRT, SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGTRAP, SIGSYS});
    return all;
  }();
  return kSignals;
}

extern "C" void remove_unfinished(int signal) {
  const int error = errno;
  for (const auto& place : unfinished) {
    if (const char* path = place.load()) unlink(path);
  }
  // Not before: the same signal once more, on another thread, would end the program in between. Now it does what it
  // would have done.
  std::signal(signal, SIG_DFL);
  raise(signal);
  errno = error;
}

// Holds the folder of a file for one program that puts files in their places. A file system without locks has none:
// then nothing is held.
class FolderLock {
 public:
  explicit FolderLock(const std::string& path) {
    const std::string folder = std::filesystem::path(path).parent_path().string();
    descriptor_ = open(folder.empty() ? "." : folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    // Held by others for the time of two renames only; what holds it longer is none of them.
    for (int tries = 0; tries < kMostTries && descriptor_ >= 0 && flock(descriptor_, LOCK_EX | LOCK_NB) != 0; ++tries) {
      if (errno != EWOULDBLOCK && errno != EINTR) return;
      std::this_thread::sleep_for(std::chrono::milliseconds(1));
    }
  }
  ~FolderLock() {
    if (descriptor_ >= 0) close(descriptor_);
  }
  FolderLock(const FolderLock&) = delete;
  FolderLock& operator=(const FolderLock&) = delete;

 private:
  static constexpr int kMostTries = 2000;
  int descriptor_ = -1;
};

// A device or pipe cannot be replaced, only written to. A pipe that nobody reads is not waited for without end.
int open_in_place(const std::string& path, bool is_pipe) {
  constexpr int kMostTries = 200;
  for (int tries = 0;; ++tries) {
    const int descriptor = open(path.c_str(), O_WRONLY | O_CLOEXEC | O_NONBLOCK);
    if (descriptor >= 0) {
      fcntl(descriptor, F_SETFL, O_WRONLY);
      return descriptor;
    }
    if (errno != ENXIO || !is_pipe) return descriptor;
    if (tries == kMostTries) {
      errno = EPIPE;
      return descriptor;
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
}

// No signal that ends the program comes to this thread meanwhile, nor to one that is started.
class SignalsHeld {
 public:
  SignalsHeld() {
    sigset_t held;
    sigemptyset(&held);
    for (const int signal : ending_signals()) sigaddset(&held, signal);
    pthread_sigmask(SIG_BLOCK, &held, &before_);
  }
  ~SignalsHeld() { pthread_sigmask(SIG_SETMASK, &before_, nullptr); }
  SignalsHeld(const SignalsHeld&) = delete;
  SignalsHeld& operator=(const SignalsHeld&) = delete;

 private:
  sigset_t before_{};
};

}  // namespace

void remove_unfinished_on_signals() {
  // A file that grows beyond a limit on its size is one that cannot be written, and that is said.
  std::signal(SIGXFSZ, SIG_IGN);
  for (const int signal : ending_signals()) {
    struct sigaction action {};
    // What the caller had the program ignore, as nohup does, stays ignored.
    if (sigaction(signal, nullptr, &action) != 0 || action.sa_handler == SIG_IGN) continue;
    action = {};
    action.sa_handler = remove_unfinished;
    sigaction(signal, &action, nullptr);
  }
}

OutputFile::OutputFile(std::string path) : path_(std::move(path)) {
  if (is_standard_output(path_)) {
    descriptor_ = STDOUT_FILENO;
    return;
  }
  struct stat status {};
  const bool exists = stat(path_.c_str(), &status) == 0;
  if (exists && S_ISDIR(status.st_mode)) {
    fail(EISDIR);
    return;
  }
  if (exists && !S_ISREG(status.st_mode)) {
    // By its own name: a link as /dev/stdout may lead to a pipe that has no other.
    descriptor_ = open_in_place(path_, S_ISFIFO(status.st_mode));
  } else {
    path_ = target_of(path_);
    if (path_.empty()) {
      fail(ELOOP);
      return;
    }
    aside_ = path_ + ".XXXXXX";
    const SignalsHeld held;
    descriptor_ = mkstemp(aside_.data());
    if (descriptor_ >= 0) add_unfinished(aside_.c_str());
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
      to_disk(static_cast<std::size_t>(written));
    } else if (errno != EINTR) {
      fail(errno);
    }
  }
}

void OutputFile::to_disk(std::size_t written) {
  if (disk_) {
    disk_->add(written);
  } else if (written <= short_left_) {
    short_left_ -= written;
  } else if (!aside_.empty()) {
    try {
      // Signals are for the other threads.
      const SignalsHeld held;
      disk_.emplace(descriptor_);
    } catch (const std::exception&) {
      // Without memory or a thread, flush() does it all.
      short_left_ = std::numeric_limits<std::size_t>::max();
    }
  }
}

void OutputFile::end_disk_thread() {
  if (!disk_) return;
  const int error = disk_->finish();
  disk_.reset();
  if (error != 0 && failure_.empty()) fail(error);
}

bool OutputFile::flush() {
  end_disk_thread();
  if (failure_.empty() && !aside_.empty() && fsync(descriptor_) != 0) fail(errno);
  return failure_.empty();
}

bool commit_together(OutputFile& first, OutputFile& second) {
  const FolderLock lock(first.path_);
  if (!first.flush() || !second.flush()) return false;
  {
    const SignalsHeld held;
    if (first.place_keeping_old() && !second.place()) first.take_back();
    first.discard();
    second.discard();
  }
  return first.failure_.empty() && second.failure_.empty();
}

bool OutputFile::commit() {
  if (flush()) place();
  discard();
  return failure_.empty();
}

// As place(), and an older file stays aside until discard().
bool OutputFile::place_keeping_old() {
  if (aside_.empty()) return true;
  if (renameat2(AT_FDCWD, aside_.c_str(), AT_FDCWD, path_.c_str(), RENAME_EXCHANGE) == 0) {
    keeps_old_ = true;
    return true;
  }
  // Some file systems, those of a network among them, exchange nothing.
  const std::string old = aside_ + ".old";
  const bool has_old = errno != ENOENT && rename(path_.c_str(), old.c_str()) == 0;
  is_first_ = !has_old && errno == ENOENT;
  if (!has_old) return place();
  if (!place()) {
    static_cast<void>(rename(old.c_str(), path_.c_str()));
    return false;
  }
  aside_ = old;
  keeps_old_ = true;
  return true;
}

// After place_keeping_old(): what was there before is there again, or nothing where nothing was.
void OutputFile::take_back() {
  if (keeps_old_) {
    static_cast<void>(place());
  } else if (is_first_) {
    unlink(path_.c_str());
  }
}

// False, after fail(), where it cannot stand there.
bool OutputFile::place() {
  if (aside_.empty()) return true;
  if (rename(aside_.c_str(), path_.c_str()) != 0) {
    fail(errno);
    return false;
  }
  forget_unfinished(aside_.c_str());
  aside_.clear();
  return true;
}

void OutputFile::fail(int error_number) {
  failure_ = std::strerror(error_number);
  if (!failure_.empty()) failure_[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(failure_[0])));
}

void OutputFile::discard() {
  end_disk_thread();
  if (descriptor_ >= 0 && descriptor_ != STDOUT_FILENO) close(descriptor_);
  descriptor_ = -1;
  if (!aside_.empty()) {
    unlink(aside_.c_str());
    forget_unfinished(aside_.c_str());
  }
  aside_.clear();
}

}  // namespace rampart
