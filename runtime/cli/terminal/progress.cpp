#include "runtime/cli/terminal/progress.h"

#include <unistd.h>

#include <chrono>
#include <cmath>
#include <condition_variable>
#include <cstdio>
#include <memory>
#include <mutex>
#include <string>
#include <system_error>
#include <thread>

#include "lang/values/quantity.h"

namespace rampart::cli {
namespace {

using Clock = std::chrono::steady_clock;

constexpr std::chrono::milliseconds kQuiet{250};
constexpr std::chrono::milliseconds kBetween{100};
// What remains is told once so many parts are done, on whatever thread, and so much time has passed: the first parts
// alone say little.
constexpr std::size_t kFewest = 4;
constexpr double kSteady = 1;
constexpr const char* kBackAndClear = "\r\033[K";

std::string seconds(double time) {
  return to_text(std::ceil(time), "s");
}

void print(const std::string& text) {
  const std::string line = kBackAndClear + text;
  std::fwrite(line.data(), 1, line.size(), stderr);
}

// A line that goes on while nobody tells it anything, so that one long part of the work is seen to be at work.
class Line {
 public:
  ~Line() {
    {
      const std::lock_guard lock(mutex_);
      is_over_ = true;
    }
    changed_.notify_all();
    if (ticker_.joinable()) ticker_.join();
    clear();
  }

  // Work begins where some of it is told for the first time, and is over with all of it done.
  void tell(std::size_t done, std::size_t all) {
    const std::lock_guard lock(mutex_);
    if (done == all) {
      clear();
      is_open_ = false;
      return;
    }
    if (!is_open_) begin_ = Clock::now();
    is_open_ = true;
    done_ = done;
    all_ = all;
    if (!ticker_.joinable()) start_ticker();
  }

 private:
  void start_ticker() {
    try {
      ticker_ = std::thread([this] { tick(); });
    } catch (const std::system_error&) {
      // Without a thread there is no line.
    }
  }

  void tick() {
    std::unique_lock lock(mutex_);
    while (!is_over_) {
      changed_.wait_for(lock, kBetween);
      const Clock::time_point now = Clock::now();
      if (!is_over_ && is_open_ && now - begin_ >= kQuiet) show(std::chrono::duration<double>(now - begin_).count());
    }
  }

  void show(double passed) {
    shown_ = true;
    const double share = std::floor(100 * static_cast<double>(done_) / static_cast<double>(all_));
    std::string text = to_text(share, "%") + " done, " + seconds(passed) + " so far";
    if (done_ >= kFewest && passed >= kSteady) {
      text += ", about " + seconds(passed * static_cast<double>(all_ - done_) / static_cast<double>(done_)) + " left";
    }
    print(text);
  }

  void clear() {
    if (shown_) print("");
    shown_ = false;
  }

  std::mutex mutex_;
  std::condition_variable changed_;
  std::thread ticker_;
  bool is_over_ = false;
  bool is_open_ = false;
  Clock::time_point begin_;
  std::size_t done_ = 0;
  std::size_t all_ = 1;
  bool shown_ = false;
};

}  // namespace

void ByteCount::add(std::size_t bytes) {
  bytes_ += static_cast<double>(bytes);
  const Clock::time_point now = Clock::now();
  if (!is_told_ || now - begin_ < kQuiet || now - last_ < kBetween) return;
  last_ = now;
  shown_ = true;
  print(to_text(bytes_, "B") + " written, " + seconds(std::chrono::duration<double>(now - begin_).count()) + " so far");
}

ByteCount::ByteCount(bool is_told) : is_told_(is_told && isatty(STDERR_FILENO) != 0), begin_(Clock::now()) {}

ByteCount::~ByteCount() {
  if (shown_) print("");
}

Progress progress_line() {
  if (isatty(STDERR_FILENO) == 0) return {};
  return [line = std::make_shared<Line>()](std::size_t done, std::size_t all) { line->tell(done, all); };
}

}  // namespace rampart::cli
