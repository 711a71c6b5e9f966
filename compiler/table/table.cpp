#include "compiler/table/table.h"

#include "lang/text/overloaded.h"

namespace rampart {
namespace {

RailSetup setup_of(const Rail& rail, RailId id, const Bench& bench) {
  return std::visit(Overloaded{
                        [&](ChannelId channel) {
                          return RailSetup{id, {channel}, std::nullopt};
                        },
                        [&](CombinationId combination) {
                          return RailSetup{id, bench[combination].members, bench[combination].arrangement};
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
