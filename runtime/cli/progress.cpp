#include "runtime/cli/progress.h"

#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <memory>
#include <string>

#include "lang/quantity.h"

namespace rampart::cli {
namespace {

using Clock = std::chrono::steady_clock;

constexpr std::chrono::milliseconds kQuiet{1000};
constexpr std::chrono::milliseconds kBetween{200};
constexpr const char* kBackAndClear = "\r\033[K";

class Line {
 public:
  void tell(std::size_t done, std::size_t all) {
    const Clock::time_point now = Clock::now();
    if (done == all) {
      if (shown_) print("");
      shown_ = false;
      return;
    }
    if (now - begin_ < kQuiet || now - last_ < kBetween) return;
    last_ = now;
    shown_ = true;
    const double passed = std::chrono::duration<double>(now - begin_).count();
    const double left = passed * static_cast<double>(all - done) / static_cast<double>(done);
    print(std::to_string(done) + " of " + std::to_string(all) + " runs, " + seconds(passed) + " so far, about " +
          seconds(left) + " left");
  }

 private:
  static std::string seconds(double time) {
    return to_text(static_cast<double>(static_cast<long long>(time + 0.5)), "s");
  }

  static void print(const std::string& text) {
    const std::string line = kBackAndClear + text;
    std::fwrite(line.data(), 1, line.size(), stderr);
  }

  Clock::time_point begin_ = Clock::now();
  Clock::time_point last_;
  bool shown_ = false;
};

}  // namespace

Progress progress_line() {
  if (isatty(STDERR_FILENO) == 0) return {};
  return [line = std::make_shared<Line>()](std::size_t done, std::size_t all) { line->tell(done, all); };
}

}  // namespace rampart::cli
