#include "runtime/predict/fault_runs.h"

#include <algorithm>

#include "compiler/yaml/file_values.h"
#include "lang/findings/predicted.h"
#include "lang/findings/resolve.h"
#include "runtime/play/simulate.h"
#include "runtime/predict/expectation_findings.h"

namespace rampart {
namespace {

std::optional<RailId> find_rail(const Fault& fault, const Profile& profile, FindingSink& findings) {
  std::vector<std::string> names;
  for (std::size_t i = 0; i < profile.rails.size(); ++i) {
    if (profile.rails[i].name == fault.rail) return RailId{static_cast<std::uint32_t>(i)};
    names.push_back(profile.rails[i].name);
  }
  report_unknown_name("rail in the profile", fault.rail, fault.span, names, findings);
  return std::nullopt;
}

bool tripped(const Simulation& simulation) {
  return std::any_of(simulation.rails.begin(), simulation.rails.end(),
                     [](const RailFigures& rail) { return rail.trip.has_value(); });
}

bool timed_out(const Simulation& simulation) {
  return std::any_of(simulation.awaited.begin(), simulation.awaited.end(),
                     [](const Awaited& awaited) { return awaited.timed_out; });
}

// True if someone has written that no protection shall act under this fault.
bool no_trip_expected(const Profile& profile, const Fault& fault) {
  return std::any_of(profile.expectations.begin(), profile.expectations.end(), [&](const Expectation& expectation) {
    return expectation.fault == fault.name && std::holds_alternative<ExpectNoTrip>(expectation.what);
  });
}

void report_uncaught(const Profile& profile, const Fault& fault, const Simulation& simulation, FindingSink& findings) {
  // Where nothing is left there is no current to catch.
  if (fault.becomes.empty() || no_trip_expected(profile, fault)) return;
  const FaultRecord& record = *simulation.fault;
  const bool is_caught = std::any_of(simulation.rails.begin(), simulation.rails.end(), [&](const RailFigures& rail) {
    return rail.trip && rail.trip->time_s >= record.time_s;
  });
  if (is_caught) return;
  const double energy = simulation.rails[static_cast<std::size_t>(record.rail)].energy_J - record.energy_J;
  findings
      .report(finding::FaultUncaught, fault.span, fault.name, profile[record.rail].name, to_text(record.time_s, "s"),
              to_text(energy, "J"))
      .hint("lower the current limit, or give the rail a fuse or an overpower that acts on it");
}

}  // namespace

std::optional<Injection> place_fault(const Fault& fault, const Profile& profile, const Simulation& plain,
                                     FindingSink& findings) {
  const std::optional<RailId> rail = find_rail(fault, profile, findings);
  if (!rail) return std::nullopt;
  Injection injection{*rail, Instant{fault.after, 0}, fault.becomes};
  if (fault.mark) {
    const auto mark = std::find_if(plain.first_marks.begin(), plain.first_marks.end(),
                                   [&](const MarkTime& known) { return known.mark == *fault.mark; });
    if (mark == plain.first_marks.end()) {
      if (tripped(plain) || timed_out(plain)) {
        findings.report(finding::FaultAfterMark, fault.span, fault.name, *fault.mark);
      } else {
        std::vector<std::string> names;
        for (const MarkTime& known : plain.first_marks) names.push_back(known.mark);
        const std::string nearest = nearest_name(*fault.mark, names);
        auto addition = findings.report(finding::UnknownMark, fault.mark_span, *fault.mark);
        if (!nearest.empty()) addition.hint_name(nearest);
      }
      return std::nullopt;
    }
    injection.at = mark->at.plus(fault.after);
  }
  if (injection.at.seconds() < 0) {
    findings.report(finding::FaultBeforeRun, fault.span, fault.name);
    return std::nullopt;
  }
  return injection;
}

void report_fault_run(const Profile& profile, const Fault& fault, const Simulation& simulation, FindingSink& findings) {
  if (!simulation.fault) {
    findings.report(finding::FaultAfterRun, fault.span, fault.name, to_text(simulation.duration_s, "s"))
        .hint("let it come earlier, or after a mark");
    return;
  }
  report_uncaught(profile, fault, simulation, findings);
  report_expectations(profile, simulation, fault.name, findings);
}

}  // namespace rampart
