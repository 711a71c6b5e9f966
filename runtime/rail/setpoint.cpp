#include "runtime/rail/setpoint.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace rampart {
namespace {

using circuit::Setting;

// A value that runs straight between two rows.
using Straight = StraightVoltage;

Straight line_at(double from, double to, const Instant& begin, Nanoseconds length, const Instant& now) {
  const double whole = static_cast<double>(length.count()) / 1e9;
  const double gone = now.since(begin);
  if (length.count() <= 0 || gone >= whole * (1 - 1e-15)) return {to, 0};
  return {from + (to - from) * (gone / whole), (to - from) / whole};
}

// A channel gives no voltage of the other sign: told to, it stays at 0 V.
std::int64_t given_by(std::int64_t counts) {
  return std::max<std::int64_t>(0, counts);
}

Nanoseconds delay_of(const Table& table, const RailSetup& setup, const RailDeviation& deviation) {
  SwitchPositions positions(table.bench().supplies.size());
  for (std::size_t i = 0; i < deviation.members.size(); ++i) {
    positions[static_cast<std::size_t>(table.bench()[setup.members[i]].supply)] = deviation.members[i].on_delay;
  }
  return switch_delay(table.bench(), setup.members, positions);
}

}  // namespace

Setpoint::Setpoint(const Table& table, const RailSetup& setup, const RailDeviation& deviation)
    : arrangement_(setup.arrangement), switch_(delay_of(table, setup, deviation)) {
  std::vector<std::optional<SetpointSlew>> slews;
  for (const ChannelId id : setup.members) {
    const OutputLimits& limits = table.bench()[id].limits;
    Member member;
    member.channel = id;
    member.voltage_count = limits.voltage_resolution.to_double();
    member.current_count = limits.current_resolution.to_double();
    if (!deviation.members.empty()) member.off_by = deviation.members[members_.size()];
    members_.push_back(member);
    const std::optional<Slew>& slew = table.bench()[id].slew;
    slews.push_back(slew ? std::optional(SetpointSlew{slew->up.to_double(), slew->down.to_double()}) : std::nullopt);
  }
  const bool moves_at_once =
      std::none_of(slews.begin(), slews.end(), [](const auto& slew) { return slew.has_value(); });
  if (!moves_at_once) slewed_.emplace(std::move(slews), arrangement_ != Arrangement::Parallel);
}

void Setpoint::take(const Row& row, const Instant& base) {
  for (Member& member : members_) {
    if (member.channel != row.channel) continue;
    const Row before = member.row;
    member.row = row;
    // A row of `safe` may leave the channel as the trip found it.
    if (!row.known.voltage) member.row.voltage = member.row.voltage_until = before.voltage_until;
    if (!row.known.limit) member.row.current = member.row.current_until = before.current_until;
    if (!row.known.output) member.row.output = before.output;
    member.base = base;
    member.given = true;
  }
}

void Setpoint::halt(const Instant& now) {
  for (Member& member : members_) {
    Row& row = member.row;
    const auto reached = [&](std::int64_t from, std::int64_t to) {
      const Straight way = line_at(static_cast<double>(from), static_cast<double>(to), member.base.plus(row.time),
                                   row.until - row.time, now);
      return std::llround(way.value);
    };
    row.voltage = row.voltage_until = reached(row.voltage, row.voltage_until);
    row.current = row.current_until = reached(row.current, row.current_until);
    row.until = row.time;
  }
}

bool Setpoint::given() const {
  return std::all_of(members_.begin(), members_.end(), [](const Member& member) { return member.given; });
}

// Series: voltages add, the lowest limit holds. Parallel: limits add, one voltage. A reversed rail is simulated
// upright: only what is told of it has its sign.
Setting Setpoint::target(const Instant& now) const {
  Setting result;
  for (const Member& member : members_) {
    const Row& row = member.row;
    const Instant begin = member.base.plus(row.time);
    const Nanoseconds length = row.until - row.time;
    const auto line = [&](double count, const SettingError& error, std::int64_t from, std::int64_t to) {
      return line_at(deviated(count * static_cast<double>(from), error),
                     deviated(count * static_cast<double>(to), error), begin, length, now);
    };
    const Straight voltage =
        line(member.voltage_count, member.off_by.voltage, given_by(row.voltage), given_by(row.voltage_until));
    const Straight limit = line(member.current_count, member.off_by.current, row.current, row.current_until);
    if (&member == &members_.front()) {
      result = {voltage.value, voltage.slope, limit.value, limit.slope, switch_.closed()};
    } else if (arrangement_ == Arrangement::Series) {
      result.voltage += voltage.value;
      result.voltage_slope += voltage.slope;
      if (limit.value < result.limit) {
        result.limit = limit.value;
        result.limit_slope = limit.slope;
      }
    } else {
      result.limit += limit.value;
      result.limit_slope += limit.slope;
    }
  }
  return result;
}

Setpoint::Wanted Setpoint::wanted(const Instant& now) const {
  const Setting setting = target(now);
  return {setting.voltage, setting.on, setting.voltage_slope != 0, members_.front().row.is_stair};
}

void Setpoint::begin(const Instant& now, bool off) {
  const auto asks = [](const Member& member) { return member.row.output; };
  switch_.tell(!off && std::all_of(members_.begin(), members_.end(), asks), now);
  if (slewed_) slewed_->begin(now, aims(now), target(now).on);
}

// What each member is set to; in parallel all follow the first one.
SlewedVoltage::Aims Setpoint::aims(const Instant& now) const {
  SlewedVoltage::Aims result;
  for (const Member& member : members_) {
    const Member& own = arrangement_ == Arrangement::Parallel ? members_.front() : member;
    const Row& row = own.row;
    const auto volts = [&](std::int64_t counts) {
      return deviated(own.voltage_count * static_cast<double>(given_by(counts)), own.off_by.voltage);
    };
    result.push_back(
        line_at(volts(row.voltage), volts(row.voltage_until), own.base.plus(row.time), row.until - row.time, now));
  }
  return result;
}

bool Setpoint::close_contact(const Instant& now) {
  if (!switch_.close_if_due(now)) return false;
  begin(now, false);
  return true;
}

Setting Setpoint::at(const Instant& now) const {
  Setting result = target(now);
  if (!slewed_ || !result.on) return result;
  const StraightVoltage voltage = slewed_->at(now, aims(now));
  result.voltage = voltage.value;
  result.voltage_slope = voltage.slope;
  return result;
}

std::optional<Instant> Setpoint::corner(const Instant& now) const {
  std::optional<Instant> first;
  const auto offer = [&](const Instant& end) {
    if (end.since(now) > 0 && (!first || end.since(*first) < 0)) first = end;
  };
  for (const Member& member : members_) {
    if (member.row.until > member.row.time) offer(member.base.plus(member.row.until));
  }
  if (slewed_) {
    for (const Instant& end : slewed_->corners()) offer(end);
  }
  if (switch_.due()) offer(*switch_.due());
  return first;
}

void Setpoint::add_course(const Instant& now, std::vector<double>& course) const {
  for (const Member& member : members_) {
    const double left = member.base.plus(member.row.until).since(now);
    const bool runs = member.row.until > member.row.time && left > 0;
    course.push_back(runs ? left : 0);
    course.push_back(static_cast<double>(member.row.voltage_until));
    course.push_back(static_cast<double>(member.row.current_until));
    course.push_back(runs ? to_seconds(member.row.until - member.row.time).to_double() : 0);
  }
  course.push_back(switch_.told_on() ? 1 : 0);
  course.push_back(switch_.due() ? switch_.due()->since(now) : 0);
  if (slewed_) slewed_->add_course(now, course);
}

void Setpoint::shift(const Instant& by) {
  for (Member& member : members_) member.base = member.base.plus(by);
  if (slewed_) slewed_->shift(by);
}

}  // namespace rampart
