#include "compiler/bench/bench.h"

#include <algorithm>
#include <numeric>

namespace rampart {

std::optional<ChannelId> Bench::find_channel(std::string_view name) const {
  for (std::size_t i = 0; i < channels.size(); ++i) {
    if (channels[i].name == name) return static_cast<ChannelId>(i);
  }
  return std::nullopt;
}

Timing Bench::timing_of(std::span<const ChannelId> members) const {
  Timing timing = supply_of(members.front()).timing;
  for (const ChannelId member : members) {
    const Timing& own = supply_of(member).timing;
    timing.minimum_step = std::max(timing.minimum_step, own.minimum_step);
    timing.resolution = Nanoseconds{std::lcm(timing.resolution.count(), own.resolution.count())};
  }
  const Nanoseconds beyond = timing.minimum_step % timing.resolution;
  if (beyond.count() > 0) timing.minimum_step += timing.resolution - beyond;
  return timing;
}

const ProtectionLink* Bench::find_link(SupplyId one, SupplyId other) const {
  const auto has = [](const ProtectionLink& link, SupplyId supply) {
    return std::find(link.supplies.begin(), link.supplies.end(), supply) != link.supplies.end();
  };
  for (const ProtectionLink& link : links) {
    // A link of several supplies says nothing of what goes on within one of them.
    if (one == other && link.supplies.size() > 1) continue;
    if (has(link, one) && has(link, other)) return &link;
  }
  return nullptr;
}

std::optional<Nanoseconds> Bench::link_delay(SupplyId from, std::span<const ChannelId> to) const {
  Nanoseconds longest{0};
  for (const ChannelId other : to) {
    const SupplyId supply = (*this)[other].supply;
    const ProtectionLink* link = find_link(from, supply);
    if (link == nullptr && from != supply) return std::nullopt;
    if (link != nullptr) longest = std::max(longest, link->delay);
  }
  return longest;
}

std::optional<Nanoseconds> Bench::link_delay(std::span<const ChannelId> from, std::span<const ChannelId> to) const {
  Nanoseconds longest{0};
  for (const ChannelId tripped : from) {
    const std::optional<Nanoseconds> delay = link_delay((*this)[tripped].supply, to);
    if (!delay) return std::nullopt;
    longest = std::max(longest, *delay);
  }
  return longest;
}

std::vector<ChannelId> Bench::channels_of(const Output& output) const {
  const auto* combination = std::get_if<CombinationId>(&output);
  return combination != nullptr ? (*this)[*combination].members : std::vector{std::get<ChannelId>(output)};
}

std::optional<Output> Bench::find_output(std::string_view name) const {
  for (const NamedOutput& named : outputs) {
    if (named.name == name) return named.output;
  }
  if (const std::optional<ChannelId> channel = find_channel(name)) return *channel;
  return std::nullopt;
}

std::vector<std::string> Bench::output_names() const {
  std::vector<std::string> names;
  for (const NamedOutput& named : outputs) names.push_back(named.name);
  for (const Channel& channel : channels) names.push_back(channel.name);
  return names;
}

}  // namespace rampart
