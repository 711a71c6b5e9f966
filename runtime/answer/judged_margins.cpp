#include "runtime/answer/judged_margins.h"

#include <algorithm>

#include "lang/text/overloaded.h"
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

bool names_current_of(const Rule& rule, RailId rail) {
  return std::visit(Overloaded{[&](const AlwaysRule& always) { return names_current_of(always.condition, rail); },
                               [&](const BeforeRule& before) {
                                 return names_current_of(before.first, rail) || names_current_of(before.second, rail);
                               },
                               [&](const WithinRule& within) {
                                 return names_current_of(within.response, rail) ||
                                        names_current_of(within.stimulus, rail);
                               },
                               [](const MonotonicRule&) { return false; }},
                    rule.what);
}

// A rule or expectation of the profile asks what current the rail draws, or how long it is at its limit.
bool is_current_asked(const Profile& profile, RailId rail) {
  const auto by_rule = [rail](const Rule& rule) { return names_current_of(rule, rail); };
  const auto by_expectation = [rail](const Expectation& expectation) {
    const auto* figure = std::get_if<ExpectFigure>(&expectation.what);
    return figure != nullptr && figure->rail == rail &&
           (figure->figure == Figure::PeakCurrent || figure->figure == Figure::CcTime ||
            figure->figure == Figure::Current);
  };
  return std::any_of(profile.rules.begin(), profile.rules.end(), by_rule) ||
         std::any_of(profile.expectations.begin(), profile.expectations.end(), by_expectation);
}

bool is_judged(const Profile& profile, const Simulation& simulation, const Margin& margin,
               const FindingSink& findings) {
  const MarginRow& row = row_of(margin.kind);
  if (never_acts(profile, margin, findings)) return false;
  if (row.judged == MarginJudged::WhereAsked && !is_current_asked(profile, margin.rail)) return false;
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
