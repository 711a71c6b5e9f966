#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "compiler/table/rail_motion.h"
#include "compiler/table/rail_output.h"
#include "lang/values/rounded_line.h"

// How a `hold` supply plays the way between two instants of a rail: in equal stairs, each at the value of its start.
namespace rampart {

// Into how many stairs the way is cut: as many as minimum steps fit into it, and no more than the largest change of a
// channel has counts. 0 or 1 where it is one step, at its end.
[[nodiscard]] std::int64_t stair_count(const RailOutput& output, const RailInstant& from, const RailInstant& to);

// What the rail is set to on a stair; they are counted from 0, which starts at `from`.
[[nodiscard]] RailState on_stair(const RailInstant& from, const RailInstant& to, std::int64_t stair,
                                 std::int64_t stairs);

// The stairs of such a way after the first, one by one. It is never early: each holds the value at its start, and the
// end value comes with `to`. What it is made for stays the same at every call.
class Staircase {
 public:
  Staircase() = default;  // without stairs
  Staircase(const RailOutput& output, const RailInstant& from, const RailInstant& to);

  [[nodiscard]] bool done() const { return stair_ >= stairs_; }
  // When the stair to come starts, on the grid of the rail.
  [[nodiscard]] Nanoseconds time(const RailOutput& output, const RailInstant& from, const RailInstant& to) const {
    return time_ ? Nanoseconds{time_->value() * output.grid().resolution.count()} : time_by_fractions(output, from, to);
  }
  // The exact time of it: the numerator of ns / count().
  [[nodiscard]] Int128 time_numerator(const RailInstant& from, const RailInstant& to) const {
    return Int128{stairs_} * from.time.count() + Int128{stair_} * (to.time - from.time).count();
  }
  [[nodiscard]] std::int64_t count() const { return stairs_; }
  // What the channels are set to on it; `counts` has an entry for each member.
  void set(const RailOutput& output, const RailInstant& from, const RailInstant& to,
           std::vector<MemberCounts>& counts) const {
    if (!voltage_ || !current_) set_by_fractions(output, from, to, counts);
    if (voltage_) output.shares().set_voltage_steps(voltage_->value(), counts);
    if (current_) output.shares().set_current_steps(current_->value(), counts);
  }
  void advance() {
    ++stair_;
    if (time_) time_->advance();
    if (voltage_) voltage_->advance();
    if (current_) current_->advance();
  }

 private:
  [[nodiscard]] Nanoseconds time_by_fractions(const RailOutput& output, const RailInstant& from,
                                              const RailInstant& to) const;
  void set_by_fractions(const RailOutput& output, const RailInstant& from, const RailInstant& to,
                        std::vector<MemberCounts>& counts) const;

  std::int64_t stairs_ = 0;
  std::int64_t stair_ = 1;
  // In steps of the grid and of the rail; empty where fractions have to be worked out for each stair.
  std::optional<RoundedLine> time_;
  std::optional<RoundedLine> voltage_;
  std::optional<RoundedLine> current_;
};

}  // namespace rampart
