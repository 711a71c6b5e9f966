#include "tests/fuzz/check.h"

#include <chrono>
#include <condition_variable>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <mutex>
#include <optional>
#include <thread>

#include "lang/findings/render.h"
#include "tests/fuzz/targets.h"

namespace rampart::fuzz {
namespace {

// Processor time of the process, which a busy machine does not change.
std::chrono::nanoseconds time_used() {
  timespec used{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &used);
  return std::chrono::seconds(used.tv_sec) + std::chrono::nanoseconds(used.tv_nsec);
}

// Asks one job after another to stop once its time is over. It lives as long as the process.
class Clock {
 public:
  Clock() {
    std::thread([this] { watch(); }).detach();
  }

  void begin(const std::stop_source& stop) {
    const std::scoped_lock lock(mutex_);
    stop_ = stop;
    end_ = time_used() + std::chrono::milliseconds(200);
    changed_.notify_one();
  }
  void finish() {
    const std::scoped_lock lock(mutex_);
    stop_.reset();
  }

 private:
  void watch() {
    std::unique_lock lock(mutex_);
    for (;;) {
      if (!stop_) {
        changed_.wait(lock);
      } else if (const std::chrono::nanoseconds left = end_ - time_used(); left > std::chrono::nanoseconds::zero()) {
        // The time on the wall passes no slower.
        changed_.wait_for(lock, left);
      } else {
        stop_->request_stop();
        stop_.reset();
      }
    }
  }

  std::mutex mutex_;
  std::condition_variable changed_;
  std::optional<std::stop_source> stop_;
  std::chrono::nanoseconds end_{};
};

Clock& the_clock() {
  static auto* const kClock = new Clock;
  return *kClock;
}

// A control character of ASCII, one of C1 in UTF-8, or one that turns the direction of text (Unicode 15, UAX #9).
bool acts(std::string_view text, std::size_t at) {
  const auto byte = [text](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U; };
  if ((byte(at) < 0x20 && byte(at) != '\n') || byte(at) == 0x7F) return true;
  if (byte(at) == 0xC2 && byte(at + 1) >= 0x80 && byte(at + 1) <= 0x9F) return true;
  if (byte(at) != 0xE2) return false;
  return (byte(at + 1) == 0x80 && byte(at + 2) >= 0xAA && byte(at + 2) <= 0xAE) ||
         (byte(at + 1) == 0x81 && byte(at + 2) >= 0xA6 && byte(at + 2) <= 0xA9);
}

}  // namespace

void require(bool holds, const std::string& what) {
  if (holds) return;
  std::fprintf(stderr, "does not hold: %s\n", what.c_str());
  std::abort();
}

std::vector<std::string> parts_of(std::string_view texts) {
  std::vector<std::string> parts;
  for (;;) {
    const std::size_t cut = texts.find(kCut);
    parts.emplace_back(texts.substr(0, cut));
    if (cut == std::string_view::npos) return parts;
    texts.remove_prefix(cut + kCut.size());
  }
}

std::string part(const std::vector<std::string>& parts, std::size_t index, std::string_view other) {
  return index < parts.size() && !parts[index].empty() ? parts[index] : std::string(other);
}

void check_plain(std::string_view text, const std::string& what) {
  for (std::size_t at = 0; at < text.size(); ++at) {
    if (acts(text, at)) require(false, what + " acts on a terminal");
  }
}

void check_findings(const FindingSink& findings) {
  for (const Finding& one : findings.findings()) {
    const SourceFile& file = findings.texts()[one.span.file];
    require(one.span.begin <= one.span.end && one.span.end <= file.text().size(), "a finding lies in its text");
    require(!one.message.empty(), "a finding says something");
    for (const FindingNote& note : one.notes) {
      const std::size_t size = findings.texts()[note.span.file].text().size();
      require(note.span.begin <= note.span.end && note.span.end <= size, "a note lies in its text");
    }
    check_plain(render_text(one, findings.texts()), "a finding");
  }
}

Bounded::Bounded() {
  the_clock().begin(stop_);
}

Bounded::~Bounded() {
  the_clock().finish();
}

Job Bounded::job() const {
  return {stop_.get_token(), {}, 1};
}

}  // namespace rampart::fuzz
