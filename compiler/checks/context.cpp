#include "compiler/checks/context.h"

#include <algorithm>

#include "compiler/checks/moves.h"
#include "lang/findings/practice.h"
#include "lang/findings/timeline.h"

namespace rampart::checks {
namespace {

constexpr int kMaxCallsShown = 8;

}  // namespace

void Usage::add(const Usage& other) {
  driven = driven || other.driven;
  switched_on = switched_on || other.switched_on;
  if (other.highest && (!highest || *highest < *other.highest)) {
    highest = other.highest;
    highest_place = other.highest_place;
  }
  highest_limit = std::max(highest_limit, other.highest_limit);
  highest_power = std::max(highest_power, other.highest_power);
}

bool is_judged_with_load(std::string_view finding) {
  return finding == finding::LeadDrop.wording.name;
}

Context::Context(const Table& run_table, const Table* safe_table, FindingSink& sink, std::vector<bool>& acceptance_used)
    : profile(run_table.profile()),
      bench(run_table.bench()),
      run(run_table),
      safe(safe_table),
      abilities(abilities_of(run_table)),
      findings_(sink),
      acceptance_used_(acceptance_used) {
  power.push_back(power_peaks(run, abilities, false));
  usage = usage_of(run.timeline(), power.front());
  for (const Usage& rail : usage) {
    used_in_run.push_back(rail.switched_on);
    demands_of_run.push_back({rail.highest_limit, rail.highest_power});
  }
  if (safe == nullptr) return;
  power.push_back(power_peaks(*safe, abilities, true, used_in_run));
  const std::vector<Usage> in_safe = usage_of(safe->timeline(), power.back(), used_in_run);
  for (std::size_t i = 0; i < usage.size(); ++i) usage[i].add(in_safe[i]);
}

std::vector<const Table*> Context::tables() const {
  std::vector<const Table*> tables{&run};
  if (safe != nullptr) tables.push_back(safe);
  return tables;
}

void Context::note_way(FindingSink::Addition& addition, const Span& span, const Statement& statement) const {
  if (statement.point.end > statement.point.begin) {
    if (span == statement.span) addition.note(finding::WaveformPointHere, statement.point);
    if (span.file != statement.span.file) addition.note(finding::WaveformHere, statement.span);
  }
  int shown = 0;
  for (CallId call = statement.call; call != kNoCall && shown < kMaxCallsShown; ++shown) {
    addition.note(finding::CalledFromHere, profile.calls[call].span);
    call = profile.calls[call].caller;
  }
}

const Acceptance* Context::find_acceptance(std::string_view name, std::optional<RailId> rail) const {
  for (std::size_t i = 0; i < profile.acceptances.size(); ++i) {
    const Acceptance& acceptance = profile.acceptances[i];
    // What concerns the whole run may be accepted on any of its rails.
    if (acceptance.finding != name || (rail && acceptance.rail && acceptance.rail != rail)) continue;
    acceptance_used_[i] = true;
    return &acceptance;
  }
  return nullptr;
}

void Context::report_unused_acceptances() const {
  for (std::size_t i = 0; i < profile.acceptances.size(); ++i) {
    const Acceptance& acceptance = profile.acceptances[i];
    if (acceptance_used_[i] || is_judged_with_load(acceptance.finding)) continue;
    findings_.report(finding::AcceptUnused, acceptance.span, acceptance.finding).hint("remove it", "");
  }
}

}  // namespace rampart::checks
