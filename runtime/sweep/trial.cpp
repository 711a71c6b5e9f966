#include "runtime/sweep/trial.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <utility>

#include "compiler/profile/fold_condition.h"
#include "runtime/answer/expectations.h"
#include "runtime/answer/judged_margins.h"
#include "runtime/answer/margin_words.h"
#include "runtime/part/fields.h"
#include "runtime/predict/spread/corners.h"
#include "runtime/predict/spread/runner.h"
#include "runtime/scenario/simulator.h"
#include "runtime/sweep/kept_limits.h"

namespace rampart::sweep {
namespace {

// Corners that are tried at a time, until one fails.
constexpr std::size_t kBatch = 64;

Mistake mistake_of(const Finding& found) {
  return {found.name, found.span.file, found.span.begin, found.span.end};
}

void take_errors(const FindingSink& findings, bool in_words, Trial& trial) {
  std::optional<Mistake> first;
  for (const Finding& found : findings.findings()) {
    if (found.severity != Severity::Error) continue;
    if (!first) {
      first = mistake_of(found);
      if (in_words) trial.first_error = found;
    }
    trial.errors.push_back(mistake_of(found));
  }
  std::sort(trial.errors.begin(), trial.errors.end());
  trial.errors.erase(std::unique(trial.errors.begin(), trial.errors.end()), trial.errors.end());
  if (!first) return;
  trial.first = static_cast<std::size_t>(std::lower_bound(trial.errors.begin(), trial.errors.end(), *first) -
                                         trial.errors.begin());
}

TightMargin told(const Profile& profile, const Margin& margin) {
  const MarginRow& row = row_of(margin.kind);
  return {std::string(row.words) + " of " + owner_of(profile, margin),
          margin.margin,
          margin.limit,
          std::string(row.unit),
          {}};
}

double share_of_bound(double missed, double bound) {
  return bound != 0 ? missed / std::abs(bound) : missed;
}

// What is nearest to its level counts for the whole of a condition whose parts have one each.
double missed_by(const Profile& profile, const Awaited& wait) {
  double most = 0;
  std::size_t next = 0;
  for_each_comparison(profile.conditions[wait.condition], [&](const Comparison& comparison) {
    if (next >= wait.nearest.size()) return;
    const double distance = wait.nearest[next++].distance;
    if (std::isfinite(distance)) most = std::max(most, share_of_bound(-distance, comparison.form.constant.to_double()));
  });
  return most;
}

// See Trial::missed.
std::vector<double> misses(const Profile& profile, const Predictions& predictions) {
  std::vector<double> missed;
  for (const ExpectationResult& result : predictions.expectations(profile)) {
    if (!result.holds && result.margin) missed.push_back(share_of_bound(-*result.margin, result.bound));
  }
  for (const Awaited& wait : predictions.simulation->awaited) {
    if (wait.timed_out) missed.push_back(missed_by(profile, wait));
  }
  for (const RuleResult& rule : predictions.simulation->rules) {
    if (!rule.holds && rule.margin && std::isfinite(*rule.margin)) missed.push_back(-*rule.margin);
  }
  std::sort(missed.begin(), missed.end(), std::greater<>());
  return missed;
}

// Errors of which it cannot be told by how much they are errors.
std::size_t unmeasured(const Trial& trial) {
  return trial.errors.size() - std::min(trial.errors.size(), trial.missed.size());
}

// Of two values that differ by less, rounding alone would decide.
double rounded(double share) {
  return std::round(share * 1e9);
}

double share_left(const Trial& trial) {
  return trial.tightest && trial.tightest->limit != 0 ? trial.tightest->margin / trial.tightest->limit : 0;
}

Trial trial_of(const Compiled& compiled, const Predictions& predictions, const FindingSink& findings,
               const std::optional<RailId>& energy_of, bool in_words) {
  Trial trial;
  take_errors(findings, in_words, trial);
  if (compiled.run_timeline() != nullptr)
    trial.duration_s = to_seconds(compiled.run_timeline()->duration()).to_double();
  if (!predictions.simulation) return trial;
  const Simulation& simulation = *predictions.simulation;
  trial.duration_s = simulation.duration_s;
  trial.energy_J =
      energy_of ? simulation.rails[static_cast<std::size_t>(*energy_of)].energy_J : simulation.total_energy_J;
  const std::vector<const Margin*> judged = judged_margins(*compiled.profile(), simulation, findings);
  if (!judged.empty()) trial.tightest = told(*compiled.profile(), *judged.front());
  if (!trial.errors.empty()) trial.missed = misses(*compiled.profile(), predictions);
  return trial;
}

// A run with anything nominal has no error, and neither has `outcome` nor does it leave too little.
bool stands(const spread::Outcome& outcome, const std::vector<KeptLimit>& limits, double keep) {
  if (outcome.failed()) return false;
  return std::none_of(limits.begin(), limits.end(),
                      [&](const KeptLimit& limit) { return leaves_less(limit, outcome.values[limit.reading], keep); });
}

std::string_view name_of_finding(const std::string& text) {
  for (const Wording& wording : finding_registry()) {
    if (wording.name == text) return wording.name;
  }
  return {};
}

}  // namespace

bool is_less_bad(const Trial& a, const Trial& b) {
  if (a.errors.size() != b.errors.size()) return a.errors.size() < b.errors.size();
  if (unmeasured(a) != unmeasured(b)) return unmeasured(a) < unmeasured(b);
  for (std::size_t i = 0; i < std::min(a.missed.size(), b.missed.size()); ++i) {
    if (rounded(a.missed[i]) != rounded(b.missed[i])) return a.missed[i] < b.missed[i];
  }
  if (a.missed.size() != b.missed.size()) return a.missed.size() < b.missed.size();
  return rounded(share_left(a)) > rounded(share_left(b));
}

bool comes_nearer(const Weighed& a, const Weighed& b) {
  if (a.trial.errors.size() != b.trial.errors.size()) return a.trial.errors.size() < b.trial.errors.size();
  if (a.failing != b.failing) return a.failing < b.failing;
  return rounded(a.left) > rounded(b.left);
}

Trial Trials::made(std::span<const Held> held, bool in_words, const Job& job) const {
  FindingSink findings;
  const Compiled compiled = with_values(compiled_, held, findings, job);
  PredictOptions options;
  options.verdict_only = !in_words;
  const Predictions predictions = predict(compiled, load_, options, findings, job);
  Trial trial = trial_of(compiled, predictions, findings, energy_of_, in_words);
  trial.value = held.back().value;
  return trial;
}

Trial Trials::at(std::span<const Held> held, const Job& job) const {
  return made(held, false, job);
}

Trial Trials::explained(std::span<const Held> held, const Job& job) const {
  return made(held, true, job);
}

Trial Trials::of(const Answer& answer, const Quantity& value) const {
  Trial trial = trial_of(answer.compiled, answer.predictions, answer.findings, energy_of_, true);
  trial.value = value;
  return trial;
}

bool Trials::meets(std::span<const Held> held, const Demand& demand, const Job& job) const {
  FindingSink findings;
  const Compiled compiled = with_values(compiled_, held, findings, job.quietly());
  PredictOptions options;
  options.verdict_only = true;
  const Predictions predictions = predict(compiled, load_, options, findings, job.quietly());
  if (findings.has_errors()) return false;
  if (!predictions.simulation) return true;
  const Simulator simulator(compiled, load_);
  const spread::Runner runner(simulator);
  const std::vector<KeptLimit> limits =
      kept_limits(*compiled.profile(), *predictions.simulation, findings, runner.ledger().readings());
  if (!stands(runner.nominal(), limits, demand.keep)) return false;
  if (!demand.corners) return true;
  const std::vector<Positions> cases = spread::corner_cases(runner.tolerances().size()).cases;
  // The last first: corners fail more often than what has one tolerance at its end.
  for (std::size_t left = cases.size(); left > 0;) {
    const std::size_t batch = std::min(kBatch, left);
    left -= batch;
    const auto begin = cases.begin() + static_cast<std::ptrdiff_t>(left);
    const std::vector<Positions> some(begin, begin + static_cast<std::ptrdiff_t>(batch));
    for (const spread::Outcome& outcome : runner.run_all(some, {}, 0, job.quietly())) {
      if (!stands(outcome, limits, demand.keep)) return false;
    }
  }
  return true;
}

Weighed Trials::weighed(std::span<const Held> held, const Demand& demand, const Job& job) const {
  Answer answer;
  answer.compiled = with_values(compiled_, held, answer.findings, job.quietly());
  PredictOptions options;
  options.corners = demand.corners && load_ != nullptr;
  answer.predictions = predict(answer.compiled, load_, options, answer.findings, job.quietly());
  Weighed weighed;
  weighed.trial = of(answer, held.back().value);
  const std::optional<TightMargin> least = least_left_of(answer);
  if (least) {
    weighed.left = least->margin / least->limit;
    if (is_too_little(*least, demand.keep)) weighed.trial.too_little = least;
  }
  if (answer.predictions.corners) {
    weighed.failing = answer.predictions.corners->failing;
    weighed.corners = answer.predictions.corners->corners;
  }
  return weighed;
}

std::string trial_text(const Trial& trial, const SourceSet& texts) {
  FieldWriter fields;
  fields.whole(static_cast<std::int64_t>(trial.errors.size()));
  for (const auto& [name, file, begin, end] : trial.errors) {
    fields.words(name);
    fields.whole(static_cast<std::int64_t>(texts.place_of(file)));
    fields.whole(begin);
    fields.whole(end);
  }
  fields.whole(static_cast<std::int64_t>(trial.first));
  fields.whole(trial.tightest ? 1 : 0);
  if (trial.tightest) {
    fields.words(trial.tightest->of);
    fields.number(trial.tightest->margin);
    fields.number(trial.tightest->limit);
    fields.words(trial.tightest->unit);
  }
  fields.number(trial.duration_s);
  fields.number(trial.energy_J);
  fields.whole(static_cast<std::int64_t>(trial.missed.size()));
  for (const double missed : trial.missed) fields.number(missed);
  return fields.take();
}

std::optional<Trial> read_trial(std::string_view text, const Quantity& value, const SourceSet& texts) {
  FieldReader fields(text);
  Trial trial;
  trial.value = value;
  trial.errors.resize(fields.count());
  for (auto& [name, file, begin, end] : trial.errors) {
    name = name_of_finding(fields.words());
    if (name.empty()) return std::nullopt;
    const std::int64_t place = fields.whole();
    if (place < 0 || static_cast<std::size_t>(place) >= texts.texts().size()) return std::nullopt;
    const SourceFile& text_of_place = *texts.texts()[static_cast<std::size_t>(place)];
    file = text_of_place.id();
    const std::int64_t from = fields.whole();
    const std::int64_t to = fields.whole();
    if (from < 0 || from > to || to > static_cast<std::int64_t>(text_of_place.text().size())) return std::nullopt;
    begin = static_cast<std::uint32_t>(from);
    end = static_cast<std::uint32_t>(to);
  }
  trial.first = static_cast<std::size_t>(fields.whole());
  if (trial.first > trial.errors.size()) return std::nullopt;
  if (fields.whole() != 0) {
    TightMargin& tightest = trial.tightest.emplace();
    tightest.of = fields.words();
    tightest.margin = fields.number();
    tightest.limit = fields.number();
    tightest.unit = fields.words();
  }
  trial.duration_s = fields.number();
  trial.energy_J = fields.number();
  trial.missed.resize(fields.count());
  for (double& missed : trial.missed) missed = fields.number();
  // By the ids of this machine.
  if (!trial.errors.empty()) {
    const Mistake first = trial.errors[std::min(trial.first, trial.errors.size() - 1)];
    std::sort(trial.errors.begin(), trial.errors.end());
    trial.first = static_cast<std::size_t>(std::lower_bound(trial.errors.begin(), trial.errors.end(), first) -
                                           trial.errors.begin());
  }
  return fields.is_right() ? std::optional(std::move(trial)) : std::nullopt;
}

}  // namespace rampart::sweep
