#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "compiler/rules/monitor.h"
#include "runtime/play/rule_watch.h"
#include "runtime/rail/rail_run.h"

namespace rampart {

// The whole state of a run at the end of a pass. Two that agree, at ends of passes that the table continues alike, have
// the same future: what happened between them happens again for as long as the loop goes on.
struct PassState {
  std::int64_t pass = 0;
  std::int64_t units = 1;  // of passes until the pulses of loads stand as here
  Passes outer;
  Instant time;
  Nanoseconds to_pass_end{0};  // the pass ends so long after `time`
  std::int64_t segments = 0;   // ended so far
  std::int64_t drifts = 0;     // added so far
  std::string table;
  std::vector<RailRun::State> rails;
  std::vector<RailSums> sums;
  rules::MonitorState rules;
  std::vector<std::vector<std::int64_t>> marks;  // how often each rail's marks were reached
};

using Rails = std::vector<std::unique_ptr<RailRun>>;

// The present state, without the place in the table.
[[nodiscard]] PassState state_of(const Rails& rails, const RuleWatch& rules, const Instant& now);

// Lets what happened between two states that are the same happen so many times more. Gives the time that takes. The
// state and the sums of a rail whose state drifts are left to the caller.
Instant repeat(const Rails& rails, RuleWatch& rules, const PassState& before, const PassState& after,
               std::int64_t times, std::optional<std::size_t> drifting = {});

// The first numbers of a rail's state, which may be others.
struct Apart {
  std::size_t rail = 0;
  std::size_t numbers = 0;
};

// Numbers agree to 1e-12 of their own size, or of the largest that the rail has seen, and to 1e-10 where they are
// solved in steps; those of rules as they say.
[[nodiscard]] bool same_state(const PassState& a, const PassState& b, const std::optional<Apart>& apart = {});
// The same of one rail; the states are `between` s apart.
[[nodiscard]] bool same_state(const RailRun::State& a, const RailRun::State& b, double between,
                              std::size_t numbers_apart = 0);

}  // namespace rampart
