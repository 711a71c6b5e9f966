#include "runtime/bench_run/schedule.h"

#include <algorithm>

namespace rampart::bench_run {
namespace {

constexpr Nanoseconds kShortestPause = std::chrono::seconds(1);
constexpr int kLeastShare = 100;  // of a pause

}  // namespace

void Schedule::begin(Clock::time_point now) {
  origin_ = now;
  last_ = behind_ = Nanoseconds{0};
}

Clock::time_point Schedule::next(Nanoseconds time) {
  const Nanoseconds pause = time - last_;
  if (pause >= kShortestPause) {
    const Nanoseconds taken_up = std::min(behind_, pause / kLeastShare);
    origin_ -= taken_up;
    behind_ -= taken_up;
  }
  last_ = time;
  return origin_ + time;
}

void Schedule::delay(Nanoseconds late) {
  origin_ += late;
  behind_ += late;
  most_behind_ = std::max(most_behind_, behind_);
}

}  // namespace rampart::bench_run
