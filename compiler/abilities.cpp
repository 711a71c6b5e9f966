#include "compiler/abilities.h"

#include <algorithm>

namespace rampart {
namespace {

// The smallest value that both are whole divisors of; an overflowed one stands for none.
Rational common_multiple(const Rational& a, const Rational& b) {
  const Rational ratio = a / b;
  if (ratio.overflowed()) return ratio;
  return b * Rational::fraction(ratio.numerator(), 1);
}

void join_voltage(Abilities& abilities, const OutputLimits& limits) {
  Range<Volts>& range = abilities.voltage.value;
  if (abilities.series) {
    range.low = range.low + limits.voltage.value.low;
    range.high = range.high + limits.voltage.value.high;
    abilities.voltage_resolution = std::min(abilities.voltage_resolution, limits.voltage_resolution);
  } else {
    range.low = std::max(range.low, limits.voltage.value.low);
    range.high = std::min(range.high, limits.voltage.value.high);
    abilities.voltage_resolution =
        Volts{common_multiple(abilities.voltage_resolution.si, limits.voltage_resolution.si)};
  }
}

void join_current(Abilities& abilities, const OutputLimits& limits) {
  Range<Amps>& range = abilities.current.value;
  if (abilities.parallel) {
    range.low = range.low + limits.current.value.low;
    range.high = range.high + limits.current.value.high;
    abilities.current_resolution = std::min(abilities.current_resolution, limits.current_resolution);
  } else {
    range.low = std::max(range.low, limits.current.value.low);
    range.high = std::min(range.high, limits.current.value.high);
    abilities.current_resolution = Amps{common_multiple(abilities.current_resolution.si, limits.current_resolution.si)};
  }
}

// What the combination can give until the first of its members has given all it can.
void join_power(Abilities& abilities) {
  abilities.power.reset();
  for (const Channel* member : abilities.members) {
    if (!member->limits.power) continue;
    const Watts whole{member->limits.power->value.si / abilities.share_of(*member)};
    if (!abilities.power || whole < abilities.power->value) abilities.power = {whole, {}};
  }
}

// A channel without a slew rate puts none on the combination.
void join_slew(Abilities& abilities, const Channel& channel) {
  if (abilities.slew && channel.slew && abilities.series) {
    abilities.slew->up = abilities.slew->up + channel.slew->up;
    abilities.slew->down = abilities.slew->down + channel.slew->down;
  } else if (abilities.slew && channel.slew) {
    abilities.slew->up = std::min(abilities.slew->up, channel.slew->up);
    abilities.slew->down = std::min(abilities.slew->down, channel.slew->down);
  } else if (abilities.series) {
    abilities.slew.reset();
  } else if (channel.slew) {
    abilities.slew = channel.slew;
  }
}

}  // namespace

Rational Abilities::share_of(const Channel& member) const {
  if (series) return member.limits.voltage.value.high.si / voltage.value.high.si;
  if (parallel) return member.limits.current.value.high.si / current.value.high.si;
  return Rational(1);
}

Abilities abilities_of(const Table& table, RailId rail) {
  const RailSetup& setup = table.rails()[static_cast<std::size_t>(rail)];
  const Bench& bench = table.bench();
  Abilities abilities;
  for (const ChannelId member : setup.members) abilities.members.push_back(&bench[member]);
  const Channel& first = *abilities.members.front();
  abilities.series = setup.arrangement == Arrangement::Series;
  abilities.parallel = setup.arrangement == Arrangement::Parallel;
  const auto* combination = std::get_if<CombinationId>(&table.profile()[rail].output);
  abilities.name = combination != nullptr ? bench[*combination].name : first.name;
  abilities.voltage = first.limits.voltage;
  abilities.current = first.limits.current;
  abilities.voltage_resolution = first.limits.voltage_resolution;
  abilities.current_resolution = first.limits.current_resolution;
  abilities.power = first.limits.power;
  abilities.slew = first.slew;
  abilities.timing = bench.timing_of(setup.members);
  for (std::size_t i = 1; i < abilities.members.size(); ++i) {
    const Channel& channel = *abilities.members[i];
    join_voltage(abilities, channel.limits);
    join_current(abilities, channel.limits);
    join_slew(abilities, channel);
  }
  if (abilities.members.size() > 1) join_power(abilities);
  if (combination != nullptr) {
    abilities.voltage.span = bench[*combination].span;
    abilities.current.span = bench[*combination].span;
    if (abilities.power) abilities.power->span = bench[*combination].span;
  }
  return abilities;
}

}  // namespace rampart
