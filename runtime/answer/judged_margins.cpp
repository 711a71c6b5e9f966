#include "runtime/answer/judged_margins.h"

#include <algorithm>
#include <variant>

#include "runtime/answer/margin_words.h"

namespace rampart {
namespace {

bool names_current_of(const Condition& condition, RailId rail) {
  return std::any_of(condition.nodes.begin(), condition.nodes.end(), [rail](const ConditionNode& node) {
    const std::vector<Term>& terms = node.comparison.form.terms;
    return node.op == Truth::Compare && std::any_of(terms.begin(), terms.end(), [rail](const Term& term) {
             return term.rail == rail && term.signal == Signal::Current;
           });
  });
}

// A rule that speaks of the current at every instant of the run. One of a phase, or of what a premise or an event
// selects, does not ask what the current is elsewhere, and its own margin tells of where it does.
bool asks_for_current(const Rule& rule, RailId rail) {
  const auto* always = std::get_if<AlwaysRule>(&rule.what);
  return always != nullptr && !rule.phase && !always->premise && names_current_of(always->condition, rail);
}

// An expectation of this run on the peak, or on how long the rail is at its limit.
bool asks_for_current(const Expectation& expectation, RailId rail, bool under_fault) {
  const auto* figure = std::get_if<ExpectFigure>(&expectation.what);
  return figure != nullptr && figure->rail == rail && expectation.fault.has_value() == under_fault &&
         (figure->figure == Figure::PeakCurrent || figure->figure == Figure::CcTime);
}

bool is_current_asked(const Profile& profile, const Simulation& simulation, RailId rail) {
  const bool under_fault = simulation.fault.has_value();
  return std::any_of(profile.rules.begin(), profile.rules.end(),
                     [&](const Rule& rule) { return asks_for_current(rule, rail); }) ||
         std::any_of(profile.expectations.begin(), profile.expectations.end(),
                     [&](const Expectation& expectation) { return asks_for_current(expectation, rail, under_fault); });
}

bool is_judged(const Profile& profile, const Simulation& simulation, const Margin& margin,
               const FindingSink& findings) {
  const MarginRow& row = row_of(margin.kind);
  if (never_acts(profile, margin, findings)) return false;
  if (row.judged == MarginJudged::WhereAsked && !is_current_asked(profile, simulation, margin.rail)) return false;
  if (row.judged == MarginJudged::WhileHeld && margin.margin < 0) return false;
  return !has_tripped(simulation, margin);
}

}  // namespace

std::vector<const Margin*> judged_margins(const Profile& profile, const Simulation& simulation,
                                          const FindingSink& findings) {
  std::vector<const Margin*> result;
  for (const Margin& margin : simulation.margins) {
    if (is_judged(profile, simulation, margin, findings)) result.push_back(&margin);
  }
  std::stable_sort(result.begin(), result.end(), [](const Margin* a, const Margin* b) {
    return is_tighter(a->margin, a->limit, b->margin, b->limit);
  });
  return result;
}

bool is_tighter(double margin, double limit, double other_margin, double other_limit) {
  if ((margin < 0) != (other_margin < 0)) return margin < 0;
  return share_of(margin, limit) < share_of(other_margin, other_limit);
}

}  // namespace rampart
