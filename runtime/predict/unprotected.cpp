#include "runtime/predict/unprotected.h"

#include <algorithm>

namespace rampart {

std::optional<Simulation> unprotected(const Simulator& simulator, const Simulation& plain, const Job& job) {
  const bool has_tripped = std::any_of(plain.rails.begin(), plain.rails.end(), [](const RailFigures& rail) {
    return rail.trip && (rail.trip->cause == TripCause::Fuse || rail.trip->cause == TripCause::Overpower);
  });
  if (!has_tripped) return std::nullopt;
  Scenario scenario;
  scenario.fuses_act = false;
  scenario.overpower_acts = false;
  scenario.rules = RulesAsked::Nothing;
  return simulator.run(scenario, nullptr, job);
}

}  // namespace rampart
