#include "compiler/table/rail_output.h"

#include <algorithm>
#include <cmath>

namespace rampart {
namespace {

// The largest whole number below `distance / slope`, or a little less.
Nanoseconds steps_within(double distance, double slope) {
  const double steps = std::floor(distance / slope * (1 - 1e-9)) - 1;
  return Nanoseconds{static_cast<std::int64_t>(std::clamp(steps, 0.0, 1e18))};
}

// Until `count`, which changes by `slope` a nanosecond, passes half a whole number or a whole one.
PhaseRoom room_to_round(const Rational& count, double slope) {
  if (slope == 0) return {};
  const Rational half = count * Rational::fraction(2, 1);
  const double above = (Rational::fraction(half.floor() + 1, 1) - half).to_double() / 2;
  const double below = 0.5 - above;
  const Nanoseconds up = steps_within(above, std::abs(slope));
  const Nanoseconds down = steps_within(below, std::abs(slope));
  return slope > 0 ? PhaseRoom{down, up} : PhaseRoom{up, down};
}

}  // namespace

void PhaseRoom::meet(const PhaseRoom& other) {
  back = std::min(back, other.back);
  ahead = std::min(ahead, other.ahead);
}

PhaseRoom TimeGrid::room(Int128 numerator, Int128 denominator) const {
  const Int128 twice = 2 * denominator;
  const Int128 middle = twice * nearest(numerator, denominator).count();
  const Int128 half = denominator * resolution.count();
  const Int128 ahead = divide_floor(middle + half - 2 * numerator - 1, twice);
  const Int128 back = divide_floor(2 * numerator - middle + half, twice);
  return {Nanoseconds{static_cast<std::int64_t>(back)}, Nanoseconds{static_cast<std::int64_t>(ahead)}};
}

Nanoseconds TimeGrid::nearest(Int128 numerator, Int128 denominator) const {
  const Int128 step = resolution.count();
  return Nanoseconds{static_cast<std::int64_t>(divide_rounded(numerator, denominator * step) * step)};
}

TimeGrid coarsest_grid(const Table& table) {
  TimeGrid grid{{}, Nanoseconds{1}, {}};
  for (const RailSetup& setup : table.rails()) {
    grid.resolution = std::max(grid.resolution, table.bench().timing_of(setup.members).resolution);
  }
  return grid;
}

MarkReached mark_of(const Block& block, const MarkMove& mark, const TimeGrid& grid) {
  return {grid.nearest(block.start + mark.start), mark.mark->name, mark.statement->span};
}

MeasurementDue measurement_of(const Block& block, const MeasurementMove& move, const TimeGrid& grid) {
  return {grid.nearest(block.start + move.start), move.measurement, move.statement->span};
}

RailOutput::RailOutput(const Table& table, RailId rail)
    : members_(table.rails()[static_cast<std::size_t>(rail)].members),
      shares_(&table.rails()[static_cast<std::size_t>(rail)].shares),
      reversed_(table.profile()[rail].reversed) {
  const Timing timing = table.bench().timing_of(members_);
  grid_ = {timing.minimum_step, timing.resolution, timing.interpolation};
}

void RailOutput::set(const Rational& voltage, const Rational& limit, std::vector<MemberCounts>& counts) const {
  counts.resize(members_.size());
  shares_->set_voltage(of_channels(voltage), counts);
  shares_->set_current(limit, counts);
}

PhaseRoom RailOutput::room(const Rational& voltage, double voltage_slope, const Rational& limit,
                           double limit_slope) const {
  if (members_.size() > 1 && (voltage_slope != 0 || limit_slope != 0)) return {Nanoseconds{0}, Nanoseconds{0}};
  const auto room_of = [](const Rational& value, double slope, const Rational& step) {
    return room_to_round(value / step, slope / step.to_double());
  };
  PhaseRoom room = room_of(voltage, voltage_slope, shares_->voltage_step());
  room.meet(room_of(limit, limit_slope, shares_->current_step()));
  return room;
}

}  // namespace rampart
