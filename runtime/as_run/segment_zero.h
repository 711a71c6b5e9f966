#pragma once

#include <algorithm>
#include <optional>
#include <string>
#include <string_view>

#include "runtime/as_run/run_times.h"
#include "runtime/log/log_reader.h"

namespace rampart::as_run {

// When the segments of a log began. The log of a run says so by an event; of any other log the first command of a
// segment counts as on time.
class SegmentZero {
 public:
  void take(const LogEvent& event, double log_s) {
    if (event.word == "segment") begun_ = Begun{std::string(event.rest), log_s};
    if (event.word == kSafeSegment) begun_ = Begun{std::string(kSafeSegment), log_s};
  }

  // By the first command of a segment, which has a planned time and was acknowledged at `log_s`.
  [[nodiscard]] double of(std::string_view segment, const LogCommand& first, double log_s) const {
    const double on_time = log_s - *first.planned_s;
    if (!begun_ || begun_->segment != segment) return on_time;
    // The event is written a moment after the segment has begun.
    return std::min(begun_->log_s, first.sent_s ? std::min(*first.sent_s - *first.planned_s, on_time) : on_time);
  }

 private:
  struct Begun {
    std::string segment;
    double log_s = 0;
  };
  std::optional<Begun> begun_;
};

}  // namespace rampart::as_run
