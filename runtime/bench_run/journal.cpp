#include "runtime/bench_run/journal.h"

#include <algorithm>

namespace rampart::bench_run {

Nanoseconds Journal::since_start(Clock::time_point time) const {
  return std::max(Nanoseconds::zero(), std::chrono::duration_cast<Nanoseconds>(time - begin_));
}

void Journal::add(LogRow row, Clock::time_point at) {
  last_ = std::max(last_, since_start(at));
  row.time = last_;
  row.segment = segment_;
  view_.log(row);
}

void Journal::event(const std::string& text, const std::string& channel) {
  LogRow row;
  row.channel = channel;
  row.text = text;
  add(std::move(row), Clock::now());
}

}  // namespace rampart::bench_run
