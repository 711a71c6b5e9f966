#pragma once

#include "runtime/bench_run/mailbox.h"

namespace rampart::bench_run {

// When the rows of a segment are due. A row that is late moves all rows after it by the same time, so that no two come
// closer than in the table; a pause of a second or more takes it up again, by a hundredth of its length at most. So
// delays do not add up over the passes of a long run.
class Schedule {
 public:
  // A segment begins, which owes nothing.
  void begin(Clock::time_point now);
  // What is played next, this far into the segment. Gives when it is due.
  Clock::time_point next(Nanoseconds time);
  // What was due last comes this much later.
  void delay(Nanoseconds late);

  // When the segment began, with the time by which its rows have moved.
  [[nodiscard]] Clock::time_point origin() const { return origin_; }
  // By how much the rows that come now have moved.
  [[nodiscard]] Nanoseconds behind() const { return behind_; }
  // The most that rows of any segment have moved.
  [[nodiscard]] Nanoseconds most_behind() const { return most_behind_; }

 private:
  Clock::time_point origin_;
  Nanoseconds last_{0};  // what was played last, in the segment
  Nanoseconds behind_{0};
  Nanoseconds most_behind_{0};
};

}  // namespace rampart::bench_run
