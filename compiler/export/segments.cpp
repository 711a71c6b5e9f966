#include "compiler/export/segments.h"

#include <algorithm>

#include "compiler/table/setup.h"

namespace rampart {

std::vector<ChannelScale> channel_scales(const Bench& bench) {
  std::vector<ChannelScale> scales;
  for (const Channel& channel : bench.channels) {
    scales.push_back({channel.name, decimal_scale(channel.limits.voltage_resolution.si),
                      decimal_scale(channel.limits.current_resolution.si)});
  }
  return scales;
}

std::vector<std::string> line_names(const Table& table) {
  std::vector<std::string> names;
  for (const Line& line : table.profile().lines) names.push_back(line_name(table.bench(), line));
  return names;
}

std::vector<ChannelId> driven_channels(const Table& table) {
  std::vector<ChannelId> channels;
  for (const RailSetup& rail : table.rails()) channels.insert(channels.end(), rail.members.begin(), rail.members.end());
  std::sort(channels.begin(), channels.end());
  return channels;
}

const Row* InstantRows::shown(const Bench& bench, ChannelId channel) const {
  const Cell& cell = channels[static_cast<std::size_t>(channel)];
  const bool holds = bench.supply_of(channel).timing.interpolation == Interpolation::Hold;
  return cell.row && (cell.is_new || holds) ? &*cell.row : nullptr;
}

}  // namespace rampart
