#pragma once

#include <string>

#include "runtime/bench_run/mailbox.h"
#include "runtime/bench_run/run_view.h"

namespace rampart::bench_run {

// Writes the lines of the log, with times from the start of the first segment.
class Journal {
 public:
  // The view has to live as long.
  explicit Journal(RunView& view) : view_(view), begin_(Clock::now()) {}

  // The run begins now: its times count from here.
  void begin(Clock::time_point now) { begin_ = now; }
  void enter_segment(const std::string& name) { segment_ = name; }
  [[nodiscard]] const std::string& segment() const { return segment_; }
  [[nodiscard]] Nanoseconds since_start(Clock::time_point time) const;
  // Times of the log never go back, although threads may post in another order than they read the clock.
  void add(LogRow row, Clock::time_point at);
  void event(const std::string& text, const std::string& channel = "");

 private:
  RunView& view_;
  Clock::time_point begin_;
  std::string segment_;
  Nanoseconds last_{0};
};

}  // namespace rampart::bench_run
