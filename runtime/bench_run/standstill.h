#pragma once

#include <optional>
#include <string>

#include "runtime/bench_run/mailbox.h"

namespace rampart::bench_run {

// Notices that this computer was suspended, or did not come round to the run for too long.
class Standstill {
 public:
  Standstill();

  // To be called often. `room`: how much longer than usual a gap may be. Says what happened since the last call; empty:
  // nothing did.
  [[nodiscard]] std::string look(Clock::time_point now, Nanoseconds room);

 private:
  Nanoseconds asleep_;  // since this computer was started
  Clock::time_point last_;
};

}  // namespace rampart::bench_run
