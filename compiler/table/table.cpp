#include "compiler/table/table.h"

#include "lang/text/overloaded.h"

namespace rampart {
namespace {

RailSetup setup_of(const Rail& rail, RailId id, const Bench& bench) {
  return std::visit(
      Overloaded{
          [&](ChannelId channel) {
            return RailSetup{id, {channel}, std::nullopt, Shares(bench, std::span(&channel, 1), std::nullopt)};
          },
          [&](CombinationId combination) {
            const std::vector<ChannelId>& members = bench[combination].members;
            const std::optional<Arrangement> arrangement = bench[combination].arrangement;
            return RailSetup{id, members, arrangement, Shares(bench, members, arrangement)};
          },
      },
      rail.output);
}

}  // namespace

Table::Table(const Profile& profile, const Bench& bench, const Timeline& timeline)
    : profile_(&profile), bench_(&bench), timeline_(&timeline) {
  for (std::size_t i = 0; i < profile.rails.size(); ++i) {
    rails_.push_back(setup_of(profile.rails[i], RailId{static_cast<std::uint32_t>(i)}, bench));
  }
}

}  // namespace rampart
