#include "runtime/scenario/simulator.h"

#include <utility>

namespace rampart {
namespace {

const Load& no_load() {
  static const Load kOpen;
  return kOpen;
}

}  // namespace

Simulator::Simulator(const Compiled& compiled, LoadPtr load)
    : Simulator(*compiled.run(), compiled.safe(), load ? *load : no_load()) {
  compiled_ = compiled;
  kept_ = std::move(load);
}

Simulator::Simulator(const Table& run, const Table* safe, const Load& load)
    : run_(&run), safe_(safe), load_(&load), tolerances_(run, load) {}

Simulation Simulator::run(const Scenario& scenario, CourseSink* sink, const Job& job) const {
  Incidents incidents{scenario.fault, scenario.assertion, {}, scenario.waits, scenario.cut_off};
  std::vector<RailDeviation>& deviations = incidents.deviations;
  std::optional<spread::Case> off;
  if (scenario.at) {
    off = tolerances_.at(*scenario.at);
    deviations = std::move(off->deviations);
    for (RailDeviation& rail : deviations) rail.is_certain = true;
  }
  if (!scenario.switches.empty()) {
    const std::vector<RailDeviation> switched = deviations_at(*run_, scenario.switches);
    if (deviations.empty()) deviations = switched;
    for (std::size_t i = 0; i < switched.size(); ++i) {
      for (std::size_t member = 0; member < switched[i].members.size(); ++member) {
        deviations[i].members[member].on_delay = switched[i].members[member].on_delay;
      }
    }
  }
  if (!scenario.fuses_act || !scenario.overpower_acts) {
    deviations.resize(run_->rails().size());
    for (RailDeviation& rail : deviations) {
      rail.fuse_acts = scenario.fuses_act;
      rail.overpower_acts = scenario.overpower_acts;
    }
  }
  return simulate(*run_, safe_, off ? off->load : *load_, incidents, sink, job);
}

}  // namespace rampart
