#include "runtime/predict/every_fault.h"

#include <algorithm>
#include <array>

#include "lang/findings/predicted.h"
#include "lang/job/parallel.h"
#include "runtime/load/output_traits.h"

namespace rampart {
namespace {

// Less than this, J, is nothing that a protection should have caught.
constexpr double kHarmless = 1e-9;

// What the capacitance of a rail's output holds at the highest voltage of the run, J.
double held_by_output(const Table& table, const RailSetup& setup, const RailFigures& figures) {
  return output_of(table, setup).capacitance * figures.voltage_V.value * figures.voltage_V.value / 2;
}

std::vector<LoadElement> elements_with(FaultKind kind, const RailLoad* rail) {
  if (kind == FaultKind::Open) return {};
  std::vector<LoadElement> elements = rail != nullptr ? rail->elements : std::vector<LoadElement>{};
  elements.push_back({{}, ResistorElement{{kShortOhms, kShortOhms, kShortOhms}}});
  return elements;
}

// The first trip that is not another one's consequence.
std::optional<Catch> first_catch(const Simulation& simulation) {
  std::optional<Catch> first;
  const double fault = simulation.fault->time_s;
  for (std::size_t i = 0; i < simulation.rails.size(); ++i) {
    const std::optional<Trip>& trip = simulation.rails[i].trip;
    if (!trip || trip->cause == TripCause::Linked || trip->time_s < fault) continue;
    if (first && first->after_s <= trip->time_s - fault) continue;
    first = Catch{RailId{static_cast<std::uint32_t>(i)}, trip->cause, trip->time_s - fault};
  }
  return first;
}

std::vector<OtherRail> reactions(const Simulation& simulation, RailId faulted) {
  std::vector<OtherRail> others;
  for (std::size_t i = 0; i < simulation.rails.size(); ++i) {
    const RailId rail{static_cast<std::uint32_t>(i)};
    if (rail == faulted) continue;
    const std::optional<Trip>& trip = simulation.rails[i].trip;
    const RailReaction reaction = trip                     ? RailReaction::Tripped
                                  : simulation.safe_played ? RailReaction::SwitchedOff
                                                           : RailReaction::PlayedOn;
    others.push_back({rail, reaction, trip});
  }
  return others;
}

TriedFault read(const Table& table, const RailSetup& setup, const Simulation& simulation, FaultKind kind,
                std::size_t instant) {
  const RailId rail = setup.rail;
  const RailFigures& figures = simulation.rails[static_cast<std::size_t>(rail)];
  TriedFault tried;
  tried.kind = kind;
  tried.rail = rail;
  tried.instant = instant;
  tried.caught = first_catch(simulation);
  tried.let_through_J = figures.energy_J - simulation.fault->energy_J;
  tried.let_through_A2s = figures.i2t_A2s - simulation.fault->i2t_A2s;
  tried.is_fed = tried.let_through_J > std::max(kHarmless, held_by_output(table, setup, figures) * (1 + 1e-6));
  tried.timed_out = std::any_of(simulation.awaited.begin(), simulation.awaited.end(),
                                [](const Awaited& wait) { return wait.timed_out; });
  tried.others = reactions(simulation, rail);
  return tried;
}

}  // namespace

EveryFault try_every_fault(const Simulator& simulator, const Simulation& plain, const Job& job) {
  const Table& table = simulator.table();
  EveryFault result;
  result.where = fault_instants(table.timeline(), plain);
  constexpr std::array kKinds{FaultKind::Short, FaultKind::Open};
  const std::size_t rails = table.rails().size();
  // By instant, rail and kind; empty where the run ends before the fault.
  std::vector<std::optional<TriedFault>> tried(result.where.instants.size() * rails * kKinds.size());
  run_parallel(tried.size(), job, [&](std::size_t i) {
    const FaultKind kind = kKinds[i % kKinds.size()];
    const RailSetup& setup = table.rails()[i / kKinds.size() % rails];
    const std::size_t instant = i / kKinds.size() / rails;
    const RailLoad* rail = simulator.load().find_rail(table.profile()[setup.rail].name);
    Scenario scenario;
    scenario.rules = RulesAsked::Nothing;
    scenario.fault = Injection{setup.rail, result.where.instants[instant].at, elements_with(kind, rail)};
    const Simulation simulation = simulator.run(scenario, nullptr, job.quietly());
    if (simulation.fault) tried[i] = read(table, setup, simulation, kind, instant);
  });
  for (std::optional<TriedFault>& fault : tried) {
    if (fault) result.faults.push_back(std::move(*fault));
  }
  return result;
}

void report_every_fault(const Profile& profile, const EveryFault& tried, FindingSink& findings) {
  for (std::size_t i = 0; i < profile.rails.size(); ++i) {
    const TriedFault* worst = nullptr;
    std::int64_t count = 0;
    for (const TriedFault& fault : tried.faults) {
      const bool is_uncaught =
          static_cast<std::size_t>(fault.rail) == i && fault.kind == FaultKind::Short && !fault.caught && fault.is_fed;
      if (!is_uncaught) continue;
      ++count;
      if (worst == nullptr || fault.let_through_J > worst->let_through_J) worst = &fault;
    }
    if (worst == nullptr) continue;
    const FaultInstant& instant = tried.where.instants[worst->instant];
    const std::string more = count > 1 ? " and " + std::to_string(count - 1) + " other instants" : "";
    findings
        .report(finding::ShortUncaught, instant.statement, profile.rails[i].name, to_text(instant.at.seconds(), "s"),
                more, to_text(worst->let_through_J, "J"))
        .hint("give the rail a fuse that acts before the run ends, or an overpower");
  }
}

std::string instant_text(const FaultInstant& instant) {
  return instant.mark.empty() ? std::string(instant_kind_name(instant.kind)) : "mark \"" + instant.mark + "\"";
}

}  // namespace rampart
