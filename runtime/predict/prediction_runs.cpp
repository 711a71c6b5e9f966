#include "runtime/predict/prediction_runs.h"

#include <algorithm>

#include "compiler/checks/moves.h"
#include "compiler/rules/switch_ends.h"
#include "compiler/yaml/file_values.h"
#include "lang/findings/files.h"
#include "lang/findings/resolve.h"
#include "runtime/play/simulate.h"
#include "runtime/predict/assertion.h"
#include "runtime/predict/fault_runs.h"
#include "runtime/predict/predictions.h"
#include "runtime/predict/shortfall_findings.h"
#include "runtime/predict/spread/spread_findings.h"
#include "runtime/waveform/recorder.h"

namespace rampart {

// A load may describe more than a profile uses, unless a rail without a load is meant.
void PredictionRuns::report_unused_loads() {
  std::vector<std::string> bare;
  for (const Rail& rail : work_.profile->rails) {
    if (work_.load->find_rail(rail.name) == nullptr) bare.push_back(rail.name);
  }
  for (const RailLoad& load : work_.load->rails) {
    const auto is_it = [&load](const Rail& rail) { return rail.name == load.rail; };
    if (std::any_of(work_.profile->rails.begin(), work_.profile->rails.end(), is_it)) continue;
    const std::string nearest = nearest_name(load.rail, bare);
    if (nearest.empty()) continue;
    work_.findings.report(finding::UnusedLoad, load.span, load.rail)
        .hint("did you mean `" + nearest + "`, which has no load?");
  }
}

void PredictionRuns::predict() {
  report_unused_loads();
  work_.simulation =
      simulate(*work_.run, work_.safe ? &*work_.safe : nullptr, *work_.load, {}, nullptr, options_.progress);
  if (work_.simulation->cut_short) {
    // What else is asked for would be cut short as well.
    report_cut_short(*work_.simulation->cut_short, work_.findings);
    return;
  }
  judge_switching();
  if (options_.progress) options_.progress(1, 1);
  std::vector<Overload> overloads;
  const checks::PowerPeaks power = checks::power_peaks(*work_.run, abilities_of(*work_.run), false);
  for (const checks::Usage& usage : checks::usage_of(*work_.run_timeline, power)) {
    overloads.push_back({usage.highest_limit.to_double(), usage.highest_power.to_double()});
  }
  work_.fuse_delays =
      fuse_delays(*work_.run, work_.safe ? &*work_.safe : nullptr, *work_.load, *work_.simulation, overloads);
  report_predictions(*work_.profile, *work_.load, *work_.simulation, work_.findings, work_.fuse_delays);
  for (const Expectation& expectation : work_.profile->expectations) {
    const bool is_known = expectation.fault && work_.load->find_fault(*expectation.fault) != nullptr;
    if (is_known) run_fault(*expectation.fault, expectation.fault_span);
  }
  if (options_.fault) run_fault(*options_.fault, place_of_option("--fault", *options_.fault));
  if (options_.assert_line) run_assertion(*options_.assert_line);
  if (options_.every_fault) try_faults();
  if (options_.corners || options_.sample) try_many();
}

void PredictionRuns::judge_switching() {
  const std::vector<SwitchPositions> ends = rules::switch_ends(*work_.run, RuleSide::Simulated);
  std::vector<std::vector<RuleResult>> results(ends.size());
  run_parallel(ends.size(), {.progress = options_.progress}, [&](std::size_t i) {
    Incidents incidents;
    incidents.deviations = deviations_at(*work_.run, ends[i]);
    results[i] = simulate_with(incidents).rules;
  });
  for (const std::vector<RuleResult>& there : results) rules::keep_worse(work_.simulation->rules, there);
}

void PredictionRuns::try_many() {
  work_.many =
      std::make_unique<spread::Runner>(*work_.run, work_.safe ? &*work_.safe : nullptr, *work_.load, options_.progress);
  const Effort effort{.progress = options_.progress};
  if (options_.corners) {
    work_.corners = spread::try_corners(*work_.many, effort);
    spread::report_corners(*work_.many, *work_.corners, work_.findings);
  }
  if (options_.sample) work_.sample = spread::try_sample(*work_.many, *options_.sample, effort);
}

void PredictionRuns::record() {
  static const Load kNoLoad;
  const Load& load = work_.load ? *work_.load : kNoLoad;
  const Table* safe = work_.safe ? &*work_.safe : nullptr;
  if (!work_.load) {
    record(load, simulate(*work_.run, safe, load));
  } else if (work_.shown() != nullptr) {
    record(load, *work_.shown());
  }
}

void PredictionRuns::record(const Load& load, const Simulation& known) {
  WaveRecorder recorder(wave_errors(known), *options_.waveforms);
  static_cast<void>(
      simulate(*work_.run, work_.safe ? &*work_.safe : nullptr, load, shown_incidents_, &recorder, options_.progress));
  if (options_.progress) options_.progress(1, 1);
  work_.waveforms = recorder.finish();
}

Span PredictionRuns::place_of_option(const std::string& option, const std::string& text) {
  return {work_.sources.add(option, text), 0, static_cast<std::uint32_t>(text.size())};
}

Simulation PredictionRuns::simulate_with(const Incidents& incidents) const {
  return simulate(*work_.run, work_.safe ? &*work_.safe : nullptr, *work_.load, incidents);
}

void PredictionRuns::try_faults() {
  const Effort effort{.progress = options_.progress};
  work_.every_fault =
      try_every_fault(*work_.run, work_.safe ? &*work_.safe : nullptr, *work_.load, *work_.simulation, effort);
  report_every_fault(*work_.profile, *work_.every_fault, work_.findings);
}

// With the fault, if one is asked for too.
void PredictionRuns::run_assertion(const std::string& text) {
  const Span place = place_of_option("--assert", text);
  Incidents incidents;
  incidents.assertion = read_assertion(work_.sources, place.file, *work_.profile, work_.findings);
  if (!incidents.assertion) return;
  const Fault* fault = options_.fault ? work_.load->find_fault(*options_.fault) : nullptr;
  if (options_.fault) {
    if (work_.shown_fault() == nullptr) return;
    FindingSink known;
    incidents.fault = place_fault(*fault, *work_.profile, *work_.simulation, known);
  }
  Simulation simulation = simulate_with(incidents);
  shown_incidents_ = incidents;
  if (!simulation.asserted) {
    work_.findings.report(finding::AssertedAfterRun, place, (*work_.profile)[incidents.assertion->line].name,
                          incidents.assertion->at.whole, to_text(simulation.duration_s, "s"));
    return;
  }
  work_.asserted = std::move(simulation);
  report_left_charged(*work_.profile, *work_.load, *work_.asserted, *work_.simulation,
                      " with `" + (*work_.profile)[incidents.assertion->line].name + "` asserted", work_.findings);
}

// Each fault is run once, whoever names it.
void PredictionRuns::run_fault(const std::string& name, const Span& place) {
  if (!faults_named_.insert(name).second) return;
  const Fault* fault = work_.load->find_fault(name);
  if (fault == nullptr) {
    std::vector<std::string> names;
    for (const Fault& known : work_.load->faults) names.push_back(known.name);
    report_unknown_name("fault in the load", name, place, names, work_.findings);
    return;
  }
  std::optional<Injection> injection = place_fault(*fault, *work_.profile, *work_.simulation, work_.findings);
  if (!injection) return;
  Incidents incidents;
  incidents.fault = std::move(injection);
  if (options_.fault == name && !options_.assert_line) shown_incidents_ = incidents;
  work_.fault_runs.push_back({fault, simulate_with(incidents)});
  const Simulation& simulation = work_.fault_runs.back().simulation;
  report_fault_run(*work_.profile, *fault, simulation, work_.findings);
  if (options_.fault != name || !simulation.fault) return;
  report_left_charged(*work_.profile, *work_.load, simulation, *work_.simulation, " under `" + name + "`",
                      work_.findings);
}

}  // namespace rampart
