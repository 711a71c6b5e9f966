#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "runtime/bench_run/output_state.h"

namespace rampart::bench_run {

// How late the rows of a run were.
struct Lateness {
  std::int64_t groups = 0;  // of messages that were acknowledged
  Nanoseconds worst{0};     // from the planned time to the acknowledgement
  Nanoseconds shifted{0};   // by how much all later rows were moved, added up
};

struct RunEnd {
  bool is_complete = false;          // every row of the run was played
  bool has_failed = false;           // a connection or the log failed
  std::string reason;                // why it ended, in words
  std::vector<OutputState> outputs;  // in the order of the plan
  std::vector<std::string> left_on;  // channels that the table leaves on at its end
  Lateness lateness;
  Nanoseconds duration{0};
};

}  // namespace rampart::bench_run
