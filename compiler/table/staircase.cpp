#include "compiler/table/staircase.h"

#include <algorithm>
#include <vector>

namespace rampart {
namespace {

std::int64_t count_change(const std::vector<MemberCounts>& from, const std::vector<MemberCounts>& to) {
  std::int64_t most = 0;
  for (std::size_t i = 0; i < from.size(); ++i) {
    most = std::max({most, std::abs(to[i].voltage - from[i].voltage), std::abs(to[i].current - from[i].current)});
  }
  return most;
}

Rational between(const Rational& from, const Rational& to, std::int64_t part, std::int64_t parts) {
  return from + (to - from) * Rational::fraction(part, parts);
}

}  // namespace

std::int64_t stair_count(const RailOutput& output, const RailInstant& from, const RailInstant& to) {
  if (from.after.voltage == to.voltage_before && from.after.limit == to.limit_before) return 0;
  const std::int64_t steps = (to.time - from.time) / output.grid().minimum_step;
  if (steps == 0) return 0;
  std::vector<MemberCounts> first;
  std::vector<MemberCounts> last;
  output.set(from.after.voltage, from.after.limit, first);
  output.set(to.voltage_before, to.limit_before, last);
  return std::min(steps, count_change(first, last));
}

RailState on_stair(const RailInstant& from, const RailInstant& to, std::int64_t stair, std::int64_t stairs) {
  RailState state = from.after;
  state.voltage = between(state.voltage, to.voltage_before, stair, stairs);
  state.limit = between(state.limit, to.limit_before, stair, stairs);
  return state;
}

Staircase::Staircase(const RailOutput& output, const RailInstant& from, const RailInstant& to)
    : stairs_(stair_count(output, from, to)) {
  if (done()) return;
  const Shares& shares = output.shares();
  const std::int64_t grid = output.grid().resolution.count();
  time_ = RoundedLine::between(Rational::fraction(from.time.count(), grid), Rational::fraction(to.time.count(), grid),
                               stairs_);
  voltage_ = shares.voltage_way(output.of_channels(from.after.voltage), output.of_channels(to.voltage_before), stairs_);
  current_ = shares.current_way(from.after.limit, to.limit_before, stairs_);
  stair_ = 0;
  advance();
}

Nanoseconds Staircase::time_by_fractions(const RailOutput& output, const RailInstant& from,
                                         const RailInstant& to) const {
  return output.grid().nearest(time_numerator(from, to), stairs_);
}

void Staircase::set_by_fractions(const RailOutput& output, const RailInstant& from, const RailInstant& to,
                                 std::vector<MemberCounts>& counts) const {
  const RailState state = on_stair(from, to, stair_, stairs_);
  output.set(state.voltage, state.limit, counts);
}

}  // namespace rampart
