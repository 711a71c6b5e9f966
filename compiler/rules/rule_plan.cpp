#include "compiler/rules/rule_plan.h"

#include <algorithm>

#include "compiler/bench/shares.h"
#include "compiler/profile/fold_condition.h"
#include "compiler/table/endless_phases.h"
#include "lang/text/overloaded.h"

namespace rampart::rules {
namespace {

// The rail is past the level by more than nothing, or (not strict) has reached it.
Condition passes_level(const MonotonicRule& rule, const Volts& level, bool strict, const Span& span) {
  const Rational sign = rule.falling ? -1 : 1;
  Comparison comparison;
  comparison.form.terms.push_back({rule.rail, Signal::Voltage, sign});
  comparison.form.constant = -(sign * level.si);
  comparison.form.unit = dimension::kVoltage;
  comparison.strict = strict;
  comparison.span = span;
  return {span, {{Truth::Compare, comparison}}};
}

std::vector<Condition> conditions_of(const Rule& rule) {
  return std::visit(Overloaded{
                        [](const AlwaysRule& always) {
                          std::vector<Condition> result{always.condition};
                          if (always.premise) result.push_back(*always.premise);
                          return result;
                        },
                        [](const BeforeRule& before) {
                          return std::vector<Condition>{before.first, before.second};
                        },
                        [](const WithinRule& within) {
                          return std::vector<Condition>{within.response, within.stimulus};
                        },
                        [&](const MonotonicRule& monotonic) {
                          return std::vector<Condition>{passes_level(monotonic, monotonic.from, true, rule.span),
                                                        passes_level(monotonic, monotonic.to, false, rule.span)};
                        },
                    },
                    rule.what);
}

std::string unit_of(const RulePlan& plan) {
  if (std::holds_alternative<AlwaysRule>(plan.rule->what)) {
    // All its comparisons have one unit.
    return unit_text(plan.conditions.front().nodes.front().comparison.form.unit);
  }
  const auto* monotonic = std::get_if<MonotonicRule>(&plan.rule->what);
  return monotonic != nullptr && !monotonic->within ? "V" : "s";
}

void add_rail(std::vector<RailId>& rails, RailId rail) {
  if (std::find(rails.begin(), rails.end(), rail) == rails.end()) rails.push_back(rail);
}

void note_terms(const Condition& condition, RulePlan& plan) {
  std::vector<RailId> rails;
  for_each_comparison(condition, [&](const Comparison& comparison) {
    for (const Term& term : comparison.form.terms) {
      add_rail(rails, term.rail);
      add_rail(plan.rails, term.rail);
      plan.has_slew = plan.has_slew || term.signal == Signal::Slew;
      plan.has_measured = plan.has_measured || term.signal == Signal::Current || term.signal == Signal::Power;
    }
  });
  plan.condition_rails.push_back(std::move(rails));
}

std::vector<bool> negated_comparisons(const Condition& condition) {
  std::vector<bool> negated;
  // The value of each part is the number of its first comparison: a `not` is of that one and all read since.
  static_cast<void>(fold_condition(
      condition,
      [&](const ConditionNode&, std::size_t i) {
        negated.push_back(false);
        return i;
      },
      [&](std::size_t first) {
        for (std::size_t i = first; i < negated.size(); ++i) negated[i] = !negated[i];
        return first;
      },
      [](const ConditionNode&, std::size_t left, std::size_t) { return left; }));
  return negated;
}

template <class Value>
void take_larger(Accuracy<Value>& whole, const Accuracy<Value>& part) {
  whole.fraction = std::max(whole.fraction, part.fraction);
  whole.offset = std::max(whole.offset, part.offset);
}

}  // namespace

std::vector<RulePlan> plan_rules(const Table& table) {
  std::vector<RulePlan> plans;
  const std::vector<Rule>& rules = table.profile().rules;
  for (std::size_t i = 0; i < rules.size(); ++i) {
    RulePlan plan;
    plan.index = i;
    plan.rule = &rules[i];
    plan.conditions = conditions_of(rules[i]);
    for (const Condition& condition : plan.conditions) {
      note_terms(condition, plan);
      plan.negated.push_back(negated_comparisons(condition));
    }
    plan.unit = unit_of(plan);
    for (const RailId rail : plan.rails) {
      for (const ChannelId member : table.rails()[static_cast<std::size_t>(rail)].members) {
        plan.skew = std::max(plan.skew, table.bench().supply_of(member).timing.skew);
      }
    }
    plans.push_back(std::move(plan));
  }
  for (const EndlessPhase& endless : endless_phases(table.timeline())) plans[endless.rule].is_endless = true;
  return plans;
}

Reading reading_of(Reading condition, bool negated) {
  if (condition == Reading::AsWritten || !negated) return condition;
  return condition == Reading::Surely ? Reading::Possibly : Reading::Surely;
}

std::optional<Accuracy<Volts>> voltage_accuracy(const Table& table, RailId rail) {
  const RailSetup& setup = table.rails()[static_cast<std::size_t>(rail)];
  std::optional<Accuracy<Volts>> whole;
  for (std::size_t i = 0; i < setup.members.size(); ++i) {
    const std::optional<Accuracy<Volts>>& part = table.bench()[setup.members[i]].limits.voltage_accuracy;
    if (!part) continue;
    if (!whole) whole.emplace();
    if (setup.arrangement == Arrangement::Series) {
      whole->fraction = whole->fraction + part->fraction * setup.shares.of_voltage(i);
      whole->offset = whole->offset + part->offset;
    } else {
      take_larger(*whole, *part);
    }
  }
  return whole;
}

std::optional<Accuracy<Amps>> current_accuracy(const Table& table, RailId rail) {
  const RailSetup& setup = table.rails()[static_cast<std::size_t>(rail)];
  std::optional<Accuracy<Amps>> whole;
  for (const ChannelId member : setup.members) {
    const std::optional<Accuracy<Amps>>& part = table.bench()[member].limits.current_accuracy;
    if (!part) continue;
    if (!whole) whole.emplace();
    const Amps offset = whole->offset + part->offset;
    take_larger(*whole, *part);
    if (setup.arrangement == Arrangement::Parallel) whole->offset = offset;
  }
  return whole;
}

}  // namespace rampart::rules
