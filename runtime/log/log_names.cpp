#include "runtime/log/log_names.h"

#include <utility>

namespace rampart {

LogNames::LogNames(const Profile& profile, const Bench& bench) : rails_(profile.rails.size()) {
  for (std::size_t i = 0; i < profile.rails.size(); ++i) add(Of::Rail, i, profile.rails[i].name);
  for (std::size_t i = 0; i < bench.channels.size(); ++i) add(Of::Channel, i, bench.channels[i].name);
  std::size_t lines = 0;
  for (const Supply& supply : bench.supplies) {
    for (const std::string& line : supply.lines) add(Of::Line, lines++, supply.name + "." + line);
  }
}

void LogNames::add(Of of, std::size_t index, std::string name) {
  (of == Of::Rail ? rail_names_ : channel_names_).emplace(name, targets_.size());
  targets_.push_back({of, index, std::move(name)});
}

std::optional<std::size_t> LogNames::find_rail(std::string_view name) const {
  const auto found = rail_names_.find(name);
  return found == rail_names_.end() ? std::nullopt : std::optional(found->second);
}

std::optional<std::size_t> LogNames::find_channel(std::string_view name) const {
  const auto found = channel_names_.find(name);
  return found == channel_names_.end() ? std::nullopt : std::optional(found->second);
}

std::size_t LogNames::of_channel(ChannelId channel) const {
  return rails_ + static_cast<std::size_t>(channel);
}

std::vector<std::string> LogNames::all() const {
  std::vector<std::string> names;
  for (const Target& target : targets_) {
    if (target.of != Of::Line) names.push_back(target.name);
  }
  return names;
}

}  // namespace rampart
