#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "compiler/table/rail_motion.h"
#include "compiler/table/rail_output.h"

namespace rampart::rules {

// By how much what a supply plays is behind the exact setpoint of a rail. A ramp in stairs is never ahead, and behind
// by up to a whole stair; a jump on a supply that runs straight from point to point takes one minimum step.
class SetpointLag {
 public:
  SetpointLag(const Table& table, RailId rail)
      : output_(table, rail), state_(table.timeline().initial()[static_cast<std::size_t>(rail)]) {}

  // A block starts; `moves` are the rail's own.
  void begin(const std::vector<const Move*>& moves, Nanoseconds now);
  // What the rail does in the block up to and at `now`. The first instant of a segment is where the channel starts, so
  // nothing leads up to it.
  void pass_until(Nanoseconds now, bool starts_segment);

  // The setpoint less what is played, in V, at a time not before the last instant.
  [[nodiscard]] Rational at(Nanoseconds time) const;
  // It is just this. Otherwise anything from 0 V to this.
  [[nodiscard]] bool is_certain() const { return way_ && output_.grid().interpolation == Interpolation::Linear; }
  // When it changes its course after `now`, where it does.
  [[nodiscard]] std::optional<Nanoseconds> next_turn(Nanoseconds now) const;

  // Straight from one lag to another, which then stays.
  struct Way {
    Nanoseconds start{0};
    Nanoseconds end{0};
    Rational from;
    Rational to;
    friend bool operator==(const Way&, const Way&) = default;
  };
  // What is to come depends on it.
  struct State {
    Nanoseconds now{0};
    Rational lag;
    std::optional<Way> way;  // while it is on it

    // The way is the one of before.
    [[nodiscard]] bool goes_on_from(const State& before) const { return way && way == before.way; }
    // Equal: at rest alike, on the same way, or as far on a way that is alike. See passes_before_turn().
    friend bool operator==(const State& before, const State& after);
  };
  [[nodiscard]] State state(Nanoseconds now) const;
  // Passes were added without being walked.
  void put_off(Nanoseconds by);

 private:
  // `next` is the instant that follows in the block, where there is one.
  [[nodiscard]] std::optional<Way> way_of_stairs(const RailInstant& instant, const RailInstant* next) const;
  [[nodiscard]] std::optional<Way> way_of_jump(const RailInstant& instant, const RailInstant* next) const;

  RailOutput output_;
  RailState state_;
  std::vector<RailInstant> instants_;  // of the block
  std::size_t next_ = 0;
  std::optional<Way> way_;
};

// Of passes that are all alike, how many, up to `most`, end before the end of a way that began before the last one.
[[nodiscard]] std::int64_t passes_before_turn(const SetpointLag::State& before, const SetpointLag::State& after,
                                              std::int64_t most);

}  // namespace rampart::rules
