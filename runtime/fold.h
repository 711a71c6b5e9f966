#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/rules/monitor.h"
#include "runtime/rail_run.h"

namespace rampart {

// The whole state of a run at the end of a pass. Two that agree, at ends of passes that the table continues alike, have
// the same future: what happened between them happens again for as long as the loop goes on.
struct PassState {
  std::int64_t pass = 0;
  Passes outer;
  Instant time;
  Nanoseconds to_pass_end{0};  // the pass ends so long after `time`
  std::int64_t segments = 0;   // ended so far
  std::string table;
  std::vector<RailRun::State> rails;
  std::vector<RailSums> sums;
  rules::MonitorState rules;
  std::vector<std::vector<std::int64_t>> marks;  // how often each rail's marks were reached
};

// Numbers agree to 1e-12 of their own size, or of the largest that the rail has seen; those of rules as they say.
[[nodiscard]] bool same_state(const PassState& a, const PassState& b);

}  // namespace rampart
