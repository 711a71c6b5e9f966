#include "runtime/predict/fuse_delays.h"

#include <algorithm>
#include <cmath>

#include "compiler/table/abilities.h"
#include "runtime/predict/delay_settings.h"

namespace rampart {
namespace {

double longest_spell(const Simulation& simulation, RailId rail) {
  for (const Margin& margin : simulation.margins) {
    if (margin.rail == rail && margin.kind == MarginKind::Fuse) return margin.limit - margin.margin;
  }
  return 0;
}

// The shortest time to the temperature limit of a member, all of V_internal across it at the given current, from the
// hottest of the run: tau ln((T_end - T) / (T_end - T_limit)). The margins are in the order of those members.
std::optional<double> time_to_overheat(const Abilities& abilities, const Simulation& plain, RailId rail,
                                       double current) {
  std::vector<double> margins;
  for (const Margin& margin : plain.margins) {
    if (margin.rail == rail && margin.kind == MarginKind::Overtemperature) margins.push_back(margin.margin);
  }
  std::optional<double> least;
  std::size_t next = 0;
  for (std::size_t i = 0; i < abilities.members.size(); ++i) {
    if (!abilities.members[i]->thermal || next == margins.size()) continue;
    const Thermal& thermal = *abilities.members[i]->thermal;
    const double share = abilities.shares.of_current(i).to_double();
    const double end = thermal.ambient.to_double() +
                       thermal.resistance.to_double() * thermal.internal_supply.to_double() * share * current;
    const double limit = thermal.limit.to_double();
    const double hottest = limit - margins[next++];
    if (end <= limit) continue;
    const double time = thermal.time_constant.to_double() * std::log((end - hottest) / (end - limit));
    least = std::min(least.value_or(time), std::max(time, 0.0));
  }
  return least;
}

FuseDelays delays_of(const Table& table, const Overload& overload, const Simulation& plain, const Simulation& without,
                     RailId rail) {
  const Protection& protection = table.profile()[rail].protection;
  const Abilities abilities = abilities_of(table, rail);
  const DelaySettings settings = delay_settings(abilities.members.front()->protection.fuse_delay);
  FuseDelays delays;
  delays.rail = rail;
  delays.spell_s = longest_spell(without, rail);
  delays.shortest_s = settings.at_least(delays.spell_s);
  std::optional<double> other;
  if (protection.overpower && overload.power_W > protection.overpower->power.value.to_double()) {
    other = static_cast<double>(protection.overpower->delay.value.count()) / 1e9;
    delays.longest_by = TripCause::Overpower;
  }
  const std::optional<double> heat = time_to_overheat(abilities, plain, rail, overload.limit_A);
  if (heat && (!other || *heat < *other)) {
    other = heat;
    delays.longest_by = TripCause::Overtemperature;
  }
  if (other) {
    // Where both act at once overpower names the cause, and the fuse before the temperature.
    const bool yields = delays.longest_by == TripCause::Overpower;
    delays.longest_s = yields ? settings.below(*other) : settings.at_most(*other);
  }
  return delays;
}

}  // namespace

std::vector<FuseDelays> fuse_delays(const Table& table, const Simulation& plain, const Simulation& without,
                                    const std::vector<Overload>& overloads) {
  std::vector<FuseDelays> result;
  for (const RailSetup& setup : table.rails()) {
    if (!table.profile()[setup.rail].protection.fuse) continue;
    result.push_back(delays_of(table, overloads[static_cast<std::size_t>(setup.rail)], plain, without, setup.rail));
  }
  return result;
}

const FuseDelays* find_delays(const std::vector<FuseDelays>& delays, RailId rail) {
  const auto found =
      std::find_if(delays.begin(), delays.end(), [rail](const FuseDelays& one) { return one.rail == rail; });
  return found == delays.end() ? nullptr : &*found;
}

std::string minimum_text(const FuseDelays& delays) {
  return delays.shortest_s ? to_text(*delays.shortest_s, "s") : "none";
}

std::string maximum_text(const FuseDelays& delays) {
  const bool has_room = delays.shortest_s && (!delays.longest_s || *delays.longest_s >= *delays.shortest_s);
  if (!has_room) return "none";
  return delays.longest_s ? to_text(*delays.longest_s, "s") : "any";
}

std::string longest_by_text(const FuseDelays& delays) {
  return delays.longest_by ? std::string(trip_cause_name(*delays.longest_by))
                           : "nothing else acts on an overload or a short";
}

std::string delay_advice(const FuseDelays& delays) {
  if (!delays.shortest_s) {
    return "its channel has no delay longer than the " + to_text(delays.spell_s, "s") + " that it would take here";
  }
  const std::string shortest = to_text(*delays.shortest_s, "s");
  if (!delays.longest_s) return "`fuse after " + shortest + "` or longer does not trip here";
  const std::string longest = to_text(*delays.longest_s, "s");
  if (*delays.longest_s < *delays.shortest_s) {
    return "`fuse after " + shortest + "` or longer does not trip here, but " + longest_by_text(delays) +
           (*delays.longest_s > 0 ? " acts before a fuse with a delay above " + longest : " always acts before it");
  }
  return "`fuse after " + shortest + "` or longer does not trip here; up to " + longest + " it acts before " +
         longest_by_text(delays);
}

}  // namespace rampart
