#include "compiler/export/rail_values.h"

#include <algorithm>

namespace rampart {
namespace {

std::int64_t power_of_ten(int exponent) {
  std::int64_t power = 1;
  for (; exponent > 0; --exponent) power *= 10;
  return power;
}

}  // namespace

RailValues::RailValues(const Table& table)
    : members_(table.bench().channels.size()), rail_of_(table.bench().channels.size()) {
  const std::vector<ChannelScale> scales = channel_scales(table.bench());
  for (const RailSetup& setup : table.rails()) {
    Value value;
    value.setup = &setup;
    value.is_reversed = table.profile()[setup.rail].reversed;
    for (const ChannelId id : setup.members) {
      const ChannelScale& scale = scales[static_cast<std::size_t>(id)];
      value.voltage_decimals = std::max(value.voltage_decimals, scale.voltage.decimals);
      value.limit_decimals = std::max(value.limit_decimals, scale.current.decimals);
      value.is_linear = table.bench().supply_of(id).timing.interpolation == Interpolation::Linear;
    }
    for (const ChannelId id : setup.members) {
      const ChannelScale& scale = scales[static_cast<std::size_t>(id)];
      Member& member = members_[static_cast<std::size_t>(id)];
      member.voltage_factor = scale.voltage.factor * power_of_ten(value.voltage_decimals - scale.voltage.decimals);
      member.limit_factor = scale.current.factor * power_of_ten(value.limit_decimals - scale.current.decimals);
      rail_of_[static_cast<std::size_t>(id)] = setup.rail;
    }
    values_.push_back(value);
  }
}

void RailValues::set(const Row& row) {
  Member& member = members_[static_cast<std::size_t>(row.channel)];
  member.voltage = row.voltage * member.voltage_factor;
  member.limit = row.current * member.limit_factor;
  values_[index(rail_of(row.channel))].output = row.output;
}

std::string RailValues::voltage_text(RailId rail) const {
  const Value& value = values_[index(rail)];
  const std::int64_t sum = gathered(value, value.setup->arrangement == Arrangement::Series, &Member::voltage);
  std::string text;
  append_short_decimal(value.is_reversed ? -sum : sum, value.voltage_decimals, text);
  return text;
}

std::string RailValues::limit_text(RailId rail) const {
  const Value& value = values_[index(rail)];
  const std::int64_t sum = gathered(value, value.setup->arrangement == Arrangement::Parallel, &Member::limit);
  std::string text;
  append_short_decimal(sum, value.limit_decimals, text);
  return text;
}

std::int64_t RailValues::gathered(const Value& value, bool adds, std::int64_t Member::*quantity) const {
  std::int64_t sum = 0;
  for (const ChannelId id : value.setup->members) {
    const std::int64_t part = members_[static_cast<std::size_t>(id)].*quantity;
    sum = adds ? sum + part : part;
  }
  return sum;
}

void AbsoluteTime::end_segment(const SegmentEnded& end) {
  start_ += end.time;
  if (end.await != nullptr && end.await->assume) start_ += *end.await->assume;
}

}  // namespace rampart
