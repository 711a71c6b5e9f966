#include "compiler/table/abilities.h"

#include <algorithm>

namespace rampart {
namespace {

// Of all members: what each of them can be set to, with its share taken out.
template <class Value, class RangeOf, class ShareOf>
void join_range(Range<Value>& whole, const std::vector<const Channel*>& members, RangeOf&& range_of,
                ShareOf&& share_of) {
  for (std::size_t i = 0; i < members.size(); ++i) {
    const Range<Value> own = range_of(members[i]->limits);
    const Value low{own.low.si / share_of(i)};
    const Value high{own.high.si / share_of(i)};
    whole.low = i == 0 ? low : std::max(whole.low, low);
    whole.high = i == 0 ? high : std::min(whole.high, high);
  }
}

void join_power(Abilities& abilities) {
  abilities.power.reset();
  for (std::size_t i = 0; i < abilities.members.size(); ++i) {
    const auto& own = abilities.members[i]->limits.power;
    if (!own) continue;
    const Watts whole{own->value.si / abilities.shares.of_power(i)};
    if (!abilities.power || whole < abilities.power->value) abilities.power = {whole, own->span};
  }
}

// As fast as the combination can go with each member keeping up with its share. A channel without a slew rate does.
void join_slew(Abilities& abilities) {
  abilities.slew.reset();
  for (const Channel* member : abilities.members) {
    if (!member->slew) continue;
    const Rational share = abilities.series ? abilities.share_of_voltage(*member) : Rational(1);
    const Slew whole{VoltsPerSecond{member->slew->up.si / share}, VoltsPerSecond{member->slew->down.si / share},
                     member->slew->span};
    if (!abilities.slew) abilities.slew = whole;
    abilities.slew->up = std::min(abilities.slew->up, whole.up);
    abilities.slew->down = std::min(abilities.slew->down, whole.down);
  }
}

}  // namespace

Rational Abilities::share_of_voltage(const Channel& member) const {
  const auto place = std::find(members.begin(), members.end(), &member);
  return shares.of_voltage(static_cast<std::size_t>(place - members.begin()));
}

Abilities abilities_of(const Table& table, RailId rail) {
  const RailSetup& setup = table.rails()[static_cast<std::size_t>(rail)];
  const Bench& bench = table.bench();
  const Channel& first = bench[setup.members.front()];
  const auto* combination = std::get_if<CombinationId>(&table.profile()[rail].output);
  Abilities abilities{.name = combination != nullptr ? bench[*combination].name : first.name,
                      .members = {},
                      .series = setup.arrangement == Arrangement::Series,
                      .parallel = setup.arrangement == Arrangement::Parallel,
                      .voltage = {},
                      .current = {},
                      .shares = setup.shares,
                      .power = {},
                      .slew = {},
                      .timing = bench.timing_of(setup.members)};
  for (const ChannelId member : setup.members) abilities.members.push_back(&bench[member]);
  const Shares& shares = abilities.shares;
  join_range(
      abilities.voltage.value, abilities.members, [](const OutputLimits& limits) { return limits.voltage.value; },
      [&](std::size_t i) { return shares.of_voltage(i); });
  join_range(
      abilities.current.value, abilities.members, [](const OutputLimits& limits) { return limits.current.value; },
      [&](std::size_t i) { return shares.of_current(i); });
  join_power(abilities);
  join_slew(abilities);
  abilities.voltage.span = combination != nullptr ? bench[*combination].span : first.limits.voltage.span;
  abilities.current.span = combination != nullptr ? bench[*combination].span : first.limits.current.span;
  if (combination != nullptr && abilities.power) abilities.power->span = bench[*combination].span;
  return abilities;
}

std::vector<Abilities> abilities_of(const Table& table) {
  std::vector<Abilities> abilities;
  for (const RailSetup& setup : table.rails()) abilities.push_back(abilities_of(table, setup.rail));
  return abilities;
}

}  // namespace rampart
