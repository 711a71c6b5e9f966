#include "runtime/cli/terminal/progress.h"

#include <unistd.h>

#include <chrono>
#include <cmath>
#include <cstdio>
#include <memory>
#include <string>

#include "lang/values/quantity.h"

namespace rampart::cli {
namespace {

using Clock = std::chrono::steady_clock;

constexpr std::chrono::milliseconds kQuiet{1000};
constexpr std::chrono::milliseconds kBetween{200};
constexpr const char* kBackAndClear = "\r\033[K";

std::string seconds(double time) {
  return to_text(std::round(time), "s");
}

void print(const std::string& text) {
  const std::string line = kBackAndClear + text;
  std::fwrite(line.data(), 1, line.size(), stderr);
}

class Line {
 public:
  void tell(std::size_t done, std::size_t all) {
    const Clock::time_point now = Clock::now();
    if (done == 0) return;
    if (done == all) {
      if (shown_) print("");
      shown_ = false;
      begin_ = now;
      return;
    }
    if (now - begin_ < kQuiet || now - last_ < kBetween) return;
    last_ = now;
    shown_ = true;
    const double passed = std::chrono::duration<double>(now - begin_).count();
    const double left = passed * static_cast<double>(all - done) / static_cast<double>(done);
    const double share = std::floor(100 * static_cast<double>(done) / static_cast<double>(all));
    print(to_text(share, "%") + " done, " + seconds(passed) + " so far, about " + seconds(left) + " left");
  }

 private:
  Clock::time_point begin_ = Clock::now();
  Clock::time_point last_;
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
