#include "compiler/bench.h"

namespace rampart {

std::optional<ChannelId> Bench::find_channel(std::string_view name) const {
  for (std::size_t i = 0; i < channels.size(); ++i) {
    if (channels[i].name == name) return static_cast<ChannelId>(i);
  }
  return std::nullopt;
}

std::optional<CombinationId> Bench::find_combination(std::string_view name) const {
  for (std::size_t i = 0; i < combinations.size(); ++i) {
    if (combinations[i].name == name) return static_cast<CombinationId>(i);
  }
  return std::nullopt;
}

std::vector<std::string> Bench::output_names() const {
  std::vector<std::string> names;
  for (const Channel& channel : channels) names.push_back(channel.name);
  for (const Combination& combination : combinations) names.push_back(combination.name);
  return names;
}

}  // namespace rampart
