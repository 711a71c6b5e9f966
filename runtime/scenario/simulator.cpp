#include "runtime/scenario/simulator.h"

#include <utility>

#include "compiler/rules/switch_ends.h"

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

Simulator::Simulator(const Table& run, const Table* safe, const Load& load) : run_(&run), safe_(safe), load_(&load) {}

const spread::Tolerances& Simulator::all_tolerances() const {
  std::call_once(found_->once, [this] { found_->tolerances.emplace(*run_, *load_); });
  return *found_->tolerances;
}

Simulation Simulator::run(const Scenario& scenario, CourseSink* sink, const Job& job, RunNotes* notes) const {
  const Setup setup = setup_of(scenario);
  return simulate(*run_, safe_, setup.load ? *setup.load : *load_, setup.incidents, sink, job, notes);
}

Simulation Simulator::run_fault(const Injection& fault, const std::string* before, const MarkStates& marks,
                                const Job& job) const {
  Scenario scenario;
  scenario.fault = fault;
  scenario.rules = RulesAsked::Nothing;
  if (before != nullptr) {
    const Setup setup = setup_of(scenario);
    if (auto result = simulate_from(marks, *before, *run_, *load_, setup.incidents, job)) return std::move(*result);
  }
  return run(scenario, nullptr, job);
}

std::vector<RuleResult> Simulator::rules_at(const SwitchPositions& switches, const std::vector<RuleResult>& plain,
                                            const Milestones& milestones, const Job& job) const {
  Scenario scenario;
  scenario.switches = switches;
  scenario.rules = RulesAsked::Verdicts;
  JudgedRun judged = judge(*run_, safe_, *load_, setup_of(scenario).incidents, milestones, job);
  if (!judged.joined) return std::move(judged.rules);
  // What comes from there on the plain run has met too.
  for (std::size_t i = 0; i < plain.size(); ++i) {
    if (rules::is_worse(judged.rules[i], plain[i])) return run(scenario, nullptr, job).rules;
  }
  return plain;
}

Simulator::Setup Simulator::setup_of(const Scenario& scenario) const {
  Setup setup{
      {scenario.fault, scenario.assertion, {}, scenario.waits, scenario.cut_off, scenario.commanded, scenario.rules},
      std::nullopt};
  std::vector<RailDeviation>& deviations = setup.incidents.deviations;
  if (scenario.at) {
    spread::Case off = all_tolerances().at(*scenario.at);
    deviations = std::move(off.deviations);
    setup.load = std::move(off.load);
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
  return setup;
}

}  // namespace rampart
