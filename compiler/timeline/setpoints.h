#pragma once

#include <optional>
#include <vector>

#include "compiler/profile/profile.h"
#include "compiler/timeline/timeline.h"

namespace rampart {

// A rail that follows another by magnitude: where one of the two is reversed, what raises the leader lowers the
// follower.
struct Tracking {
  RailId follower{};
  RailId leader{};
  bool mirrored = false;  // one of the two is reversed
};
[[nodiscard]] Tracking tracking_of(const Track& track, const Profile& profile);

// Where every setpoint and line stands, and which rails follow which.
struct Setpoints {
  std::vector<RailState> rails;
  std::vector<bool> lines;
  std::vector<Tracking> tracks;  // innermost last
};

// True if a setpoint of this value can be calculated with: both parts fit in 64 bits, so that counts of it fit in 128.
[[nodiscard]] bool is_settable(const Rational& value);

// Takes over into `rails` what a branch that began at `before` and ended at `after` changed. Branches of one `together`
// never drive the same quantity.
void take_changes(const std::vector<RailState>& before, const std::vector<RailState>& after,
                  std::vector<RailState>& rails);

// True if the statement is played at once, as one block: neither a loop nor a group of statements nor a wait.
[[nodiscard]] bool is_simple(const Statement& statement);

// The rail of the first motion that goes on from a setpoint which is not known: a relative one, or a ramp without
// `from`. Empty if there is none.
[[nodiscard]] std::optional<RailId> goes_on_from_unknown(const Statement& statement, const Setpoints& setpoints);

// Plays one simple statement: fills `block` but for its start, and moves the setpoints to where they stand after it.
// False if a setpoint is not settable or a time not in 64; the block is useless then.
[[nodiscard]] bool play(const Statement& statement, Setpoints& setpoints, Block& block);

}  // namespace rampart
