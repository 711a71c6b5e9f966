#include "runtime/predict/predict.h"

#include <algorithm>
#include <chrono>
#include <set>
#include <utility>

#include "compiler/rules/rule_findings.h"
#include "compiler/rules/switch_ends.h"
#include "compiler/yaml/file_values.h"
#include "lang/findings/files.h"
#include "lang/findings/resolve.h"
#include "lang/job/parallel.h"
#include "runtime/play/run_notes.h"
#include "runtime/predict/assertion.h"
#include "runtime/predict/fault_runs.h"
#include "runtime/predict/lasting_current.h"
#include "runtime/predict/load_names.h"
#include "runtime/predict/origin.h"
#include "runtime/predict/run_findings.h"
#include "runtime/predict/shortfall_findings.h"
#include "runtime/predict/spread/runner.h"
#include "runtime/predict/spread/spread_findings.h"
#include "runtime/predict/unprotected.h"
#include "runtime/scenario/simulator.h"

namespace rampart {
namespace {

// Makes the runs of one prediction, one after another.
class Predictor {
 public:
  // The compiled profile has a table.
  Predictor(const Compiled& compiled, const PredictOptions& options, FindingSink& findings, const Job& job,
            Predictions& result)
      : compiled_(compiled),
        profile_(*compiled.profile()),
        simulator_(compiled, result.load),
        load_(result.load.get()),
        options_(options),
        findings_(findings),
        job_(job),
        result_(result) {}

  // Needs a load.
  void predict();
  // Records a second run: how fine is known from the first one. Without a load all rails are open.
  void record();

 private:
  // Of the plain run: what it predicts, with what to do about it and what leads lose.
  void report_with_advice();
  // Judges rules of the simulation at the ends of switch delays too.
  void judge_switching();
  // By rail, A. A second run, where the peaks alone do not tell.
  [[nodiscard]] std::vector<double> lasting_currents() const;
  void try_many();
  // What parts of the many runs have to agree in.
  [[nodiscard]] std::vector<std::string> asked_of_many() const;
  Span place_of_option(const std::string& option, const std::string& text);
  // Throws JobStopped.
  [[nodiscard]] Simulation simulate_with(const Scenario& scenario) const;
  void try_faults();
  void run_assertion(const std::string& text);
  void run_fault(const std::string& name, const Span& place);
  void tell_done() const {
    if (job_.progress) job_.progress(1, 1);
  }

  const Compiled& compiled_;
  const Profile& profile_;
  const Simulator simulator_;
  const Load* load_;
  const PredictOptions& options_;
  FindingSink& findings_;
  const Job& job_;
  Predictions& result_;
  std::set<std::string> faults_named_;
  Scenario shown_;  // of the run to show
  RunNotes notes_;  // of the plain run
};

void Predictor::predict() {
  job_.check();
  report_unused_loads(profile_, *load_, findings_);
  for (const Expectation& expectation : profile_.expectations) {
    const Fault* fault = expectation.fault ? load_->find_fault(*expectation.fault) : nullptr;
    if (fault != nullptr && fault->mark) notes_.marks.want(*fault->mark);
  }
  Scenario plain;
  if (options_.verdict_only) plain.rules = RulesAsked::Verdicts;
  result_.simulation = simulator_.run(plain, nullptr, job_, &notes_);
  if (result_.simulation->cut_short) {
    // What else is asked for would be cut short as well.
    report_cut_short(*result_.simulation->cut_short, findings_);
    report_predictions(profile_, *load_, *result_.simulation, findings_);
    return;
  }
  report_unused_marks(profile_, *load_, *result_.simulation, options_.fault, findings_);
  judge_switching();
  tell_done();
  if (options_.verdict_only) {
    report_predictions(profile_, *load_, *result_.simulation, findings_);
  } else {
    report_with_advice();
  }
  for (const Expectation& expectation : profile_.expectations) {
    const bool is_known = expectation.fault && load_->find_fault(*expectation.fault) != nullptr;
    if (is_known) run_fault(*expectation.fault, expectation.fault_span);
  }
  if (options_.fault) run_fault(*options_.fault, place_of_option("--fault", *options_.fault));
  if (options_.assert_line) run_assertion(*options_.assert_line);
  if (options_.every_fault) try_faults();
  if (options_.corners || options_.sample) try_many();
}

void Predictor::report_with_advice() {
  std::vector<Overload> overloads;
  for (const HighestDemand& demand : compiled_.demands()) {
    overloads.push_back({demand.limit.to_double(), demand.power.to_double()});
  }
  const Simulation& plain = *result_.simulation;
  const std::optional<Simulation> cut_by_nothing = unprotected(simulator_, plain, job_.quietly());
  const Simulation& without = cut_by_nothing ? *cut_by_nothing : plain;
  result_.fuse_delays = fuse_delays(simulator_.table(), plain, without, overloads);
  const Stairs stairs(simulator_.table(), *load_);
  report_predictions(profile_, *load_, plain, findings_, result_.fuse_delays,
                     overpower_rooms(simulator_.table(), plain, without, overloads), lasting_currents(), &stairs);
}

void Predictor::judge_switching() {
  const std::vector<SwitchPositions> ends = rules::switch_ends(simulator_.table(), RuleSide::Simulated);
  const std::vector<RuleResult> plain = result_.simulation->rules;
  std::vector<std::vector<RuleResult>> results(ends.size());
  run_parallel(ends.size(), job_, [&](std::size_t i) {
    results[i] = simulator_.rules_at(ends[i], plain, notes_.milestones, job_.quietly());
  });
  for (std::size_t i = 0; i < ends.size(); ++i) rules::keep_worse(result_.simulation->rules, results[i], ends[i]);
}

std::vector<double> Predictor::lasting_currents() const {
  std::vector<double> peaks;
  for (const RailFigures& rail : result_.simulation->rails) peaks.push_back(rail.current_A.value);
  if (!may_lose_to_leads(profile_, *load_, *result_.simulation)) return peaks;
  LastingCurrent lasting(profile_.rails.size());
  Scenario scenario;
  scenario.rules = RulesAsked::Nothing;
  static_cast<void>(simulator_.run(scenario, &lasting, job_.quietly()));
  return lasting.currents();
}

void Predictor::try_many() {
  const Results known = options_.sharing.join.empty() ? Results{} : join_parts(options_.sharing.join, asked_of_many());
  const auto begin = std::chrono::steady_clock::now();
  const spread::Runner runner(simulator_, job_, &known);
  const std::chrono::duration<double> one = std::chrono::steady_clock::now() - begin;
  if (options_.corners && options_.before_corners && known.empty()) {
    const std::size_t all = spread::corner_cases(runner.tolerances().size()).cases.size();
    const auto [first, end] =
        options_.sharing.part ? share_of(*options_.sharing.part, all) : std::pair(std::size_t{0}, all);
    const auto threads = static_cast<double>(std::max(1U, job_.threads));
    options_.before_corners(end - first, one.count() * static_cast<double>(end - first) / threads);
  }
  if (const std::optional<Part>& part = options_.sharing.part) {
    result_.part = PartFile{*part, asked_of_many(), {}};
    if (options_.corners) result_.part->results.merge(spread::corners_part(runner, *part, job_));
    if (options_.sample) result_.part->results.merge(spread::sample_part(runner, *options_.sample, *part, job_));
    return;
  }
  result_.varied = Varied{runner.tolerances(), runner.ledger().readings()};
  if (options_.corners) {
    result_.corners = spread::try_corners(runner, job_);
    spread::report_corners(runner, *result_.corners, findings_);
  }
  if (options_.sample) result_.sample = spread::try_sample(runner, *options_.sample, job_);
}

void Predictor::record() {
  const std::optional<Simulation> open = load_ == nullptr ? std::optional(simulate_with({})) : std::nullopt;
  const Simulation* known = open ? &*open : result_.shown();
  if (known == nullptr) return;
  WaveRecorder recorder(wave_errors(*known), *options_.waveforms);
  Scenario recorded = shown_;
  recorded.rules = RulesAsked::Nothing;
  static_cast<void>(simulator_.run(recorded, &recorder, job_));
  tell_done();
  result_.waveforms = recorder.finish();
}

std::vector<std::string> Predictor::asked_of_many() const {
  std::vector<std::string> lines = origin_lines(origin_of(compiled_, load_));
  if (options_.corners) lines.emplace_back("corners");
  if (options_.sample) {
    lines.push_back("sample of " + std::to_string(options_.sample->count) + ", seed " +
                    std::to_string(options_.sample->seed));
  }
  return lines;
}

Span Predictor::place_of_option(const std::string& option, const std::string& text) {
  return {findings_.texts().add(option, text), 0, static_cast<std::uint32_t>(text.size())};
}

Simulation Predictor::simulate_with(const Scenario& scenario) const {
  return simulator_.run(scenario, nullptr, job_.quietly());
}

void Predictor::try_faults() {
  result_.every_fault = try_every_fault(simulator_, *result_.simulation, job_);
  report_every_fault(profile_, *result_.every_fault, findings_);
}

// With the fault, if one is asked for too.
void Predictor::run_assertion(const std::string& text) {
  const Span place = place_of_option("--assert", text);
  Scenario scenario;
  scenario.assertion = read_assertion(findings_.texts(), place.file, profile_, findings_);
  if (!scenario.assertion) return;
  const Fault* fault = options_.fault ? load_->find_fault(*options_.fault) : nullptr;
  if (options_.fault) {
    if (result_.shown_fault() == nullptr) return;
    FindingSink known;
    scenario.fault = place_fault(*fault, profile_, *result_.simulation, known);
  }
  Simulation simulation = simulate_with(scenario);
  shown_ = scenario;
  if (!simulation.asserted) {
    findings_.report(finding::AssertedAfterRun, place, (profile_)[scenario.assertion->line].name,
                     scenario.assertion->at.whole, to_text(simulation.duration_s, "s"));
    return;
  }
  result_.asserted = std::move(simulation);
  report_left_charged(profile_, *load_, *result_.asserted, *result_.simulation,
                      " with `" + (profile_)[scenario.assertion->line].name + "` asserted", findings_);
}

// Each fault is run once, whoever names it.
void Predictor::run_fault(const std::string& name, const Span& place) {
  if (!faults_named_.insert(name).second) return;
  const Fault* fault = load_->find_fault(name);
  if (fault == nullptr) {
    std::vector<std::string> names;
    for (const Fault& known : load_->faults) names.push_back(known.name);
    report_unknown_name("fault in the load", name, place, names, findings_);
    return;
  }
  std::optional<Injection> injection = place_fault(*fault, profile_, *result_.simulation, findings_);
  if (!injection) return;
  if (options_.fault == name) {
    Scenario scenario;
    scenario.fault = std::move(injection);
    if (!options_.assert_line) shown_ = scenario;
    result_.fault_runs.push_back({name, simulate_with(scenario)});
  } else {
    // Rules are told of the run that is shown alone.
    const std::string* before = fault->mark && fault->after >= Nanoseconds{0} ? &*fault->mark : nullptr;
    result_.fault_runs.push_back({name, simulator_.run_fault(*injection, before, notes_.marks, job_.quietly())});
  }
  const Simulation& simulation = result_.fault_runs.back().simulation;
  report_fault_run(profile_, *fault, simulation, findings_);
  if (options_.fault != name || !simulation.fault) return;
  report_left_charged(profile_, *load_, simulation, *result_.simulation, " under `" + name + "`", findings_);
}

}  // namespace

void record_run(const Compiled& compiled, const Scenario& scenario, WaveOverflow overflow, Predictions& predictions,
                const Job& job) {
  const Simulator simulator(compiled, predictions.load);
  predictions.recorded = simulator.run(scenario, nullptr, job.quietly());
  WaveRecorder recorder(wave_errors(*predictions.recorded), overflow);
  static_cast<void>(simulator.run(scenario, &recorder, job));
  predictions.waveforms = recorder.finish();
}

Predictions predict(const Compiled& compiled, LoadPtr load, const PredictOptions& options, FindingSink& findings,
                    const Job& job) {
  Predictions result;
  result.load = std::move(load);
  result.fault = options.fault;
  result.asserts = options.assert_line.has_value();
  if (compiled.run() == nullptr) return result;
  Predictor predictor(compiled, options, findings, job, result);
  if (result.load) {
    predictor.predict();
  } else if (options.needs_load && !findings.has_errors()) {
    findings.report(finding::NoLoad, Span{compiled.files().front().text->id(), 0, 0})
        .hint("write `load \"FILE.load.yaml\"` or give one with --load FILE");
  }
  if (options.waveforms) predictor.record();
  report_rules(*compiled.run(), compiled.rules(), result.simulation ? &result.simulation->rules : nullptr, findings);
  return result;
}

}  // namespace rampart
