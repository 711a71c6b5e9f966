#include "runtime/cli/terminal/background_output.h"

#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <functional>
#include <string_view>

namespace rampart::cli {
namespace {

using Clock = std::chrono::steady_clock;

// False where nobody takes it until `until`; without that it waits as long as it has to, in slices.
bool is_ready(const std::function<bool()>& goes_on) {
  constexpr int kSliceMs = 50;
  while (goes_on()) {
    pollfd one{STDOUT_FILENO, POLLOUT, 0};
    if (poll(&one, 1, kSliceMs) > 0) return (one.revents & POLLOUT) != 0;
  }
  return false;
}

}  // namespace

BackgroundOutput::BackgroundOutput() : thread_([this] { work(); }) {}

BackgroundOutput::~BackgroundOutput() {
  {
    const std::lock_guard lock(mutex_);
    is_over_ = true;
  }
  changed_.notify_one();
  thread_.join();
}

void BackgroundOutput::write(std::string text) {
  {
    const std::lock_guard lock(mutex_);
    if (waiting_.size() >= kMostWaiting) return;
    waiting_.push_back(std::move(text));
  }
  changed_.notify_one();
}

void BackgroundOutput::work() {
  constexpr auto kLastWords = std::chrono::seconds(1);
  // A terminal takes at least so much once it is ready.
  constexpr std::size_t kPiece = 512;
  Clock::time_point until = Clock::time_point::max();
  std::unique_lock lock(mutex_);
  while (true) {
    changed_.wait(lock, [this] { return is_over_ || !waiting_.empty(); });
    if (waiting_.empty()) return;
    const std::string text = std::move(waiting_.front());
    waiting_.pop_front();
    lock.unlock();
    std::string_view rest = text;
    const auto goes_on = [&] {
      const std::lock_guard guard(mutex_);
      if (is_over_ && until == Clock::time_point::max()) until = Clock::now() + kLastWords;
      return Clock::now() < until;
    };
    while (!rest.empty() && is_ready(goes_on)) {
      const ssize_t written = ::write(STDOUT_FILENO, rest.data(), std::min(rest.size(), kPiece));
      if (written < 0 && errno != EINTR) break;
      if (written > 0) rest.remove_prefix(static_cast<std::size_t>(written));
    }
    lock.lock();
  }
}

}  // namespace rampart::cli
