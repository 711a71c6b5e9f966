#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "compiler/rules/monitor.h"
#include "runtime/play/incident_queue.h"
#include "runtime/play/run.h"
#include "runtime/play/work_budget.h"
#include "runtime/rail/course_sink.h"

// The state of a run at the ends of two passes, and what follows where they agree.
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
  std::size_t waits = 0;       // whose observed length has been taken so far
  StateKey table;
  std::vector<RailRun::State> rails;
  std::vector<RailSums> sums;
  rules::MonitorState rules;
  std::vector<std::vector<std::int64_t>> marks;  // how often each rail's marks were reached
  std::vector<std::int64_t> readings;            // how often each was taken
  double alike_s = 0;                            // so long before `time` passes have been alike
};

// The present state, without the place in the table.
[[nodiscard]] PassState state_of(const Rig& rig, const Instant& now);
// The present state at the end of a pass.
[[nodiscard]] PassState state_at(const Run& run, const PassEnded& pass);

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

// Lets what happened between two states that are the same happen so many times more. Gives the time that takes. The
// state and the sums of a rail whose state drifts are left to the caller.
Instant repeat(Rig& rig, const PassState& before, const PassState& after, std::int64_t times,
               std::optional<std::size_t> drifting = {});

// The run that passes are added to, for those who add them.
struct FoldSite {
  Run& run;
  const IncidentQueue& incidents;
  WorkBudget& budget;
  CourseSink* sink = nullptr;         // none: nobody follows the course
  bool in_trial = false;              // of the passes of an outer loop
  std::optional<Nanoseconds> pulses;  // after which the pulses of loads are the same again

  // Where somebody follows the course, it is to be the one that was gone through.
  [[nodiscard]] bool records() const { return sink != nullptr && !sink->is_full(); }
  // When something comes from outside of the passes: an incident, or a link that acts.
  [[nodiscard]] std::optional<Instant> next_incident() const;
  // How often, up to `most`, what happened between the two states can come again before the next incident, an output
  // that gets too hot, or a switch that closes. None where a wait lasted as observed.
  [[nodiscard]] std::int64_t times_to_add(std::int64_t most, const PassState& before, const PassState& after) const;
};

}  // namespace rampart
