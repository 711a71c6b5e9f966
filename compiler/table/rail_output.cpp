#include "compiler/table/rail_output.h"

namespace rampart {

Nanoseconds TimeGrid::nearest(Int128 numerator, Int128 denominator) const {
  const Int128 step = resolution.count();
  return Nanoseconds{static_cast<std::int64_t>(divide_rounded(numerator, denominator * step) * step)};
}

RailOutput::RailOutput(const Table& table, RailId rail)
    : members_(table.rails()[static_cast<std::size_t>(rail)].members),
      shares_(table.bench(), members_, table.rails()[static_cast<std::size_t>(rail)].arrangement),
      reversed_(table.profile()[rail].reversed) {
  const Timing timing = table.bench().timing_of(members_);
  grid_ = {timing.minimum_step, timing.resolution, timing.interpolation};
}

void RailOutput::set(const Rational& voltage, const Rational& limit, std::vector<MemberCounts>& counts) const {
  counts.resize(members_.size());
  // Connected the other way round, the channels themselves are set to what the rail is below zero.
  shares_.set_voltage(reversed_ ? -voltage : voltage, counts);
  shares_.set_current(limit, counts);
}

}  // namespace rampart
