#pragma once

#include <cstdint>
#include <vector>

#include "compiler/bench/shares.h"
#include "compiler/table/table.h"

namespace rampart {

// How finely a rail's channels can be set in time.
struct TimeGrid {
  Nanoseconds minimum_step{0};
  Nanoseconds resolution{0};
  Interpolation interpolation = Interpolation::Hold;

  // The grid time nearest to `numerator / denominator` ns, ties away from zero; denominator > 0.
  [[nodiscard]] Nanoseconds nearest(Int128 numerator, Int128 denominator = 1) const;
  [[nodiscard]] Nanoseconds nearest(Nanoseconds time) const { return nearest(time.count()); }
  // How far such a time may move and still round to the same grid time.
  [[nodiscard]] PhaseRoom room(Int128 numerator, Int128 denominator = 1) const;
};

// The coarsest of all supplies' grids, which is that of what concerns every rail: marks and measurements.
[[nodiscard]] TimeGrid coarsest_grid(const Table& table);
[[nodiscard]] MarkReached mark_of(const Block& block, const MarkMove& mark, const TimeGrid& grid);
[[nodiscard]] MeasurementDue measurement_of(const Block& block, const MeasurementMove& move, const TimeGrid& grid);

// Turns the setpoints of a rail into counts of each of its channels. The table outlives it.
class RailOutput {
 public:
  RailOutput(const Table& table, RailId rail);

  [[nodiscard]] const std::vector<ChannelId>& members() const { return members_; }
  [[nodiscard]] const TimeGrid& grid() const { return grid_; }
  [[nodiscard]] const Shares& shares() const { return *shares_; }
  // The voltage of the channels together where the rail has this one: below zero for a rail connected the other way
  // round.
  [[nodiscard]] Rational of_channels(const Rational& voltage) const { return reversed_ ? -voltage : voltage; }
  // Counts of each member, in the order of members().
  void set(const Rational& voltage, const Rational& limit, std::vector<MemberCounts>& counts) const;
  // How far setpoints that run straight through these values, by so much a nanosecond, may be read earlier or later and
  // still give the same counts; or less. Members that share them leave no room.
  [[nodiscard]] PhaseRoom room(const Rational& voltage, double voltage_slope, const Rational& limit,
                               double limit_slope) const;

 private:
  std::vector<ChannelId> members_;
  const Shares* shares_;
  bool reversed_ = false;
  TimeGrid grid_;
};

}  // namespace rampart
