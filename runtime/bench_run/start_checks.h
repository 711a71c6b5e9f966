#pragma once

#include <memory>
#include <vector>

#include "runtime/bench_run/mailbox.h"
#include "runtime/bench_run/plan.h"
#include "runtime/bench_run/run_view.h"
#include "runtime/link/instrument.h"
#include "runtime/link/link_lock.h"

namespace rampart::bench_run {

// A supply that is connected, known and set up.
struct ReadySupply {
  std::unique_ptr<link::LinkLock> lock;
  std::unique_ptr<link::Instrument> instrument;
  link::Identity identity;
  Nanoseconds round_trip{0};  // the longest that was measured
  bool is_locked = false;     // its remote lock was taken
  bool is_watched = false;    // its watchdog was armed, or may have been
};

struct StartOptions {
  Nanoseconds max_late{0};
  bool accepts_residual = false;
};

// What the start came to. Without refusals every output is off, set up and read back.
struct Start {
  std::vector<ReadySupply> supplies;  // in the order of the plan
  std::vector<Refusal> refusals;
  bool is_touched = false;  // something was set: the outputs have to be switched off again if the run does not begin
  bool has_failed = false;  // a connection failed, as opposed to something found wrong
};

// Identifies all supplies before it writes anything, shows outputs that are on and asks, measures round trips, switches
// the outputs off and sets them up. `mailbox`: a signal there ends it.
[[nodiscard]] Start start_up(const Plan& plan, const StartOptions& options, RunView& view, Person& person,
                             Mailbox& mailbox);

// Switches off what the start has set, where the run does not begin.
[[nodiscard]] std::vector<SupplyState> leave_off(const Plan& plan, std::vector<ReadySupply>& supplies);
// Disarms watchdogs and gives locks back. What a supply does not answer is not told again.
void take_leave(std::vector<ReadySupply>& supplies);

// More than this at an output that is off needs to be accepted, in V.
inline constexpr double kResidualVolts = 0.5;

}  // namespace rampart::bench_run
