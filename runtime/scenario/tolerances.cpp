#include "runtime/scenario/tolerances.h"

#include <algorithm>

#include "runtime/scenario/load_values.h"

namespace rampart::spread {
namespace {

bool is_open(const Toleranced& value) {
  return value.low < value.high;
}

double between(const Toleranced& value, double position) {
  return position < 0 ? value.nominal + position * (value.nominal - value.low)
                      : value.nominal + position * (value.high - value.nominal);
}

std::string name_of(const ValuePlace& place, const std::string& rail) {
  const std::string part = place.part.empty() ? "" : " of " + place.part;
  return std::string(place.key) + part + " of " + rail;
}

template <class Value>
SettingError error_from(const Accuracy<Value>& accuracy) {
  return {accuracy.fraction.to_double(), accuracy.offset.to_double()};
}

std::string text_of(const SettingError& error, std::string_view unit, std::string_view sign) {
  std::string text;
  if (error.fraction != 0) text = std::string(sign) + to_text(100 * error.fraction, "%");
  if (error.offset != 0) text += (text.empty() ? "" : " ") + std::string(sign) + to_text(error.offset, unit);
  return text;
}

SettingError scaled(const SettingError& error, double position) {
  return {position * error.fraction, position * error.offset};
}

// Thresholds of members in series add, and so do their offsets; in parallel the worst one counts.
SettingError joined(const SettingError& a, const SettingError& b, std::optional<Arrangement> arrangement) {
  const double fraction = std::max(a.fraction, b.fraction);
  return {fraction, arrangement == Arrangement::Series ? a.offset + b.offset : std::max(a.offset, b.offset)};
}

}  // namespace

Tolerances::Tolerances(const Table& table, const Load& load) : load_(load) {
  add_load(table.profile());
  for (std::size_t i = 0; i < table.rails().size(); ++i) add_rail(table, i);
  add_switches(table);
}

void Tolerances::add_switches(const Table& table) {
  for (std::size_t i = 0; i < table.bench().supplies.size(); ++i) {
    const Supply& supply = table.bench().supplies[i];
    const Range<Nanoseconds>& delay = supply.timing.on_delay;
    if (delay.low == delay.high) continue;
    SupplyTime time;
    for (std::size_t rail = 0; rail < table.rails().size(); ++rail) {
      const std::vector<ChannelId>& members = table.rails()[rail].members;
      for (std::size_t member = 0; member < members.size(); ++member) {
        if (table.bench()[members[member]].supply == SupplyId{static_cast<std::uint32_t>(i)}) {
          time.outputs.emplace_back(rail, member);
        }
      }
    }
    if (time.outputs.empty()) continue;
    on_delays_.push_back(std::move(time));
    list_.push_back({"switch-on delay of " + supply.name, to_text(delay.low), to_text(delay.high)});
  }
}

void Tolerances::add_load(const Profile& profile) {
  for (std::size_t i = 0; i < load_.rails.size(); ++i) {
    RailLoad& rail = load_.rails[i];
    const auto is_it = [&rail](const Rail& one) { return one.name == rail.rail; };
    if (std::none_of(profile.rails.begin(), profile.rails.end(), is_it)) continue;
    loads_used_.push_back(i);
    visit_values(rail, [&](const ValuePlace& place, const Toleranced& value) {
      if (!is_open(value)) return;
      list_.push_back({name_of(place, rail.rail), to_text(value.low, place.unit), to_text(value.high, place.unit)});
    });
  }
}

void Tolerances::add_rail(const Table& table, std::size_t rail) {
  const RailSetup& setup = table.rails()[rail];
  exact_.push_back({std::vector<ChannelDeviation>(setup.members.size()), {}, {}});
  SettingError overvoltage;
  SettingError delay;
  for (std::size_t member = 0; member < setup.members.size(); ++member) {
    const Channel& channel = table.bench()[setup.members[member]];
    const OutputLimits& limits = channel.limits;
    // Parallel channels have one voltage, that of the first.
    if (limits.voltage_accuracy && (member == 0 || setup.arrangement == Arrangement::Series)) {
      add_error(Of::Voltage, "voltage of " + channel.name, rail, member, error_from(*limits.voltage_accuracy));
    }
    if (limits.current_accuracy) {
      add_error(Of::Current, "current limit of " + channel.name, rail, member, error_from(*limits.current_accuracy));
    }
    const ProtectionAbilities& able = channel.protection;
    if (able.overvoltage_accuracy) {
      overvoltage = joined(overvoltage, error_from(*able.overvoltage_accuracy), setup.arrangement);
    }
    if (able.fuse_delay_accuracy) delay = joined(delay, error_from(*able.fuse_delay_accuracy), std::nullopt);
  }
  const Rail& profile_rail = table.profile()[setup.rail];
  const auto given = [](const SettingError& error) { return error.fraction != 0 || error.offset != 0; };
  if (profile_rail.protection.overvoltage && given(overvoltage)) {
    add_error(Of::Overvoltage, "overvoltage of " + profile_rail.name, rail, 0, overvoltage);
  }
  if (profile_rail.protection.fuse && given(delay)) {
    add_error(Of::FuseDelay, "fuse delay of " + profile_rail.name, rail, 0, delay);
  }
}

void Tolerances::add_error(Of of, const std::string& name, std::size_t rail, std::size_t member,
                           const SettingError& most) {
  const std::string_view unit = of == Of::Current ? "A" : of == Of::FuseDelay ? "s" : "V";
  errors_.push_back({of, rail, member, most});
  list_.push_back({name, text_of(most, unit, "-"), text_of(most, unit, "+")});
}

SettingError& Tolerances::error_of(RailDeviation& rail, const SupplyError& error) {
  switch (error.of) {
    case Of::Voltage:
      return rail.members[error.member].voltage;
    case Of::Current:
      return rail.members[error.member].current;
    case Of::Overvoltage:
      return rail.overvoltage;
    case Of::FuseDelay:
      break;
  }
  return rail.fuse_delay;
}

Case Tolerances::at(std::span<const double> positions) const {
  Case result{load_, exact_};
  std::size_t next = 0;
  for (const std::size_t used : loads_used_) {
    visit_values(result.load.rails[used], [&](const ValuePlace& /*place*/, Toleranced& value) {
      if (is_open(value)) value.nominal = between(value, positions[next++]);
    });
  }
  for (const SupplyError& error : errors_) {
    error_of(result.deviations[error.rail], error) = scaled(error.most, positions[next++]);
  }
  for (const SupplyTime& time : on_delays_) {
    for (const auto& [rail, member] : time.outputs) {
      result.deviations[rail].members[member].on_delay = positions[next];
    }
    ++next;
  }
  return result;
}

}  // namespace rampart::spread
