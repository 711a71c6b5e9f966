#include "runtime/predict/overpower_room.h"

#include <algorithm>

#include "compiler/profile/accept_words.h"
#include "compiler/table/abilities.h"
#include "lang/findings/practice.h"
#include "lang/values/short_text.h"
#include "runtime/predict/delay_settings.h"

namespace rampart {
namespace {

// A power that is below another by less than this share of it leaves no room between them.
constexpr double kNoRoom = 1e-3;

bool trips_by_overpower(const RailFigures& rail) {
  return rail.trip && rail.trip->cause == TripCause::Overpower;
}

// The greatest value that a margin of the rail was used up to.
std::optional<double> reached(const Simulation& simulation, RailId rail, MarginKind kind) {
  for (const Margin& margin : simulation.margins) {
    if (margin.rail == rail && margin.kind == kind) return margin.limit - margin.margin;
  }
  return std::nullopt;
}

OverpowerRoom room_of(const Table& table, const Overload& overload, const Simulation& without, RailId rail) {
  const Abilities abilities = abilities_of(table, rail);
  OverpowerRoom room;
  room.rail = rail;
  room.most_W = overload.power_W;
  room.can_wait = std::all_of(abilities.members.begin(), abilities.members.end(),
                              [](const Channel* member) { return member->protection.overpower_delay.has_value(); });
  room.waits = table.profile()[rail].protection.overpower->delay.value.count() > 0;
  room.drawn_W = reached(without, rail, room.waits ? MarginKind::OverpowerLevel : MarginKind::Overpower).value_or(0);
  const std::optional<double> spell = reached(without, rail, MarginKind::OverpowerDelay);
  if (room.can_wait && spell) {
    room.delay_s = delay_settings(abilities.members.front()->protection.overpower_delay).at_least(*spell);
  }
  room.trips_fuse = std::any_of(without.margins.begin(), without.margins.end(), [rail](const Margin& margin) {
    return margin.rail == rail && margin.kind == MarginKind::Fuse && margin.margin <= 0;
  });
  return room;
}

}  // namespace

std::vector<OverpowerRoom> overpower_rooms(const Table& table, const Simulation& plain, const Simulation& without,
                                           const std::vector<Overload>& overloads) {
  std::vector<OverpowerRoom> result;
  for (std::size_t i = 0; i < plain.rails.size(); ++i) {
    if (!trips_by_overpower(plain.rails[i])) continue;
    result.push_back(room_of(table, overloads[i], without, RailId{static_cast<std::uint32_t>(i)}));
  }
  return result;
}

std::string overpower_advice(const OverpowerRoom& room, const std::string& rail) {
  std::string advice = room.can_wait ? "ramp more slowly, raise the threshold, or set a delay longer than the inrush: "
                                     : "ramp more slowly, or raise the threshold: ";
  if (room.delay_s) {
    advice += "`after " + to_text(*room.delay_s, "s") + "` or longer does not trip here" +
              (room.trips_fuse ? ", but then the fuse does" : "") + "; ";
  } else if (room.can_wait && room.waits) {
    advice += "its channel has no delay that long; ";
  }
  const std::string most = short_text_down(room.most_W, "W");
  if (room.drawn_W < room.most_W * (1 - kNoRoom)) {
    return advice + short_text_up(room.drawn_W, "W") + " or more does not trip here; below " + most +
           " (setpoint times limit) it can still act";
  }
  return advice + "the load draws up to " + most +
         " (setpoint times limit), and with that threshold it never acts; if the load may draw that, leave the "
         "protection out and write " +
         accept_words(finding::NoOverpower.wording.name, rail);
}

}  // namespace rampart
