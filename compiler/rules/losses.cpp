#include "compiler/rules/losses.h"

#include <algorithm>
#include <map>

#include "compiler/bench/switch_delay.h"
#include "compiler/rules/rule_plan.h"
#include "compiler/rules/setpoint_walk.h"
#include "lang/values/short_text.h"

namespace rampart::rules {
namespace {

constexpr double kNothing = 1e-12;

RulePlan plan_of(const Table& table, const RuleResult& result) {
  std::vector<RulePlan> plans = plan_rules(table);
  return std::move(plans[result.rule]);
}

// The supplies that a rule speaks of, by their place in the bench.
std::map<std::size_t, const Supply*> supplies_of(const Table& table, const RulePlan& plan) {
  std::map<std::size_t, const Supply*> supplies;
  for (const RailId rail : plan.rails) {
    for (const ChannelId member : table.rails()[static_cast<std::size_t>(rail)].members) {
      supplies.emplace(static_cast<std::size_t>(table.bench()[member].supply), &table.bench().supply_of(member));
    }
  }
  return supplies;
}

bool is_accuracy_given(const Table& table, const RulePlan& plan) {
  return std::any_of(plan.rails.begin(), plan.rails.end(), [&](RailId rail) {
    return voltage_accuracy(table, rail) || (plan.has_measured && current_accuracy(table, rail));
  });
}

// How the supplies play what is no level, in the words of docs/rules.md.
std::string steps_text(const std::map<std::size_t, const Supply*>& supplies) {
  bool holds = false;
  bool runs = false;
  for (const auto& [place, supply] : supplies) {
    (supply->timing.interpolation == Interpolation::Hold ? holds : runs) = true;
  }
  return holds && runs ? "stairs and jumps" : holds ? "stairs" : "jumps";
}

// What stairs, jumps and skew take without any error of the channels; none where that has no measure.
std::optional<double> loss_without_errors(const Table& table, const RuleResult& result, double there) {
  const SwitchPositions middle(table.bench().supplies.size());
  for (const RuleResult& exact : judge_at(table, result.switches.empty() ? middle : result.switches, false)) {
    if (exact.rule == result.rule && exact.margin) return there - *exact.margin;
  }
  return std::nullopt;
}

void add(std::vector<Loss>& losses, std::string what, double amount) {
  if (amount > kNothing) losses.push_back({std::move(what), amount});
}

std::vector<Loss> measured_losses(const Table& table, const RulePlan& plan, const RuleResult& result) {
  std::vector<Loss> losses;
  const double there = result.nominal_there.value_or(*result.nominal);
  add(losses, "switching", *result.nominal - there);
  double left = there - *result.margin;
  const double skew = plan.unit == "s" ? std::min(to_seconds(plan.skew).to_double(), left) : 0;
  left -= skew;
  double steps = 0;
  if (result.side == RuleSide::Setpoints) {
    const bool both = is_accuracy_given(table, plan);
    steps = both ? std::clamp(loss_without_errors(table, result, there).value_or(0) - skew, 0.0, left) : left;
  }
  add(losses, "accuracy", left - steps);
  add(losses, steps_text(supplies_of(table, plan)), steps);
  add(losses, "skew", skew);
  return losses;
}

}  // namespace

std::vector<Loss> losses_of(const Table& table, const RuleResult& result) {
  const RulePlan plan = plan_of(table, result);
  if (result.nominal && result.margin) return measured_losses(table, plan, result);
  std::vector<Loss> losses;
  if (is_accuracy_given(table, plan)) losses.push_back({"accuracy", std::nullopt});
  if (result.side == RuleSide::Setpoints) losses.push_back({steps_text(supplies_of(table, plan)), std::nullopt});
  if (!switches_text(table, result).empty()) losses.push_back({"switching", std::nullopt});
  return losses;
}

std::string losses_text(const std::vector<Loss>& losses, const std::string& unit) {
  std::string text;
  for (std::size_t i = 0; i < losses.size(); ++i) {
    if (i > 0) text += i + 1 < losses.size() ? ", " : " and ";
    text += losses[i].what;
    if (!losses[i].amount) continue;
    text += " " + short_text(*losses[i].amount, unit);
  }
  return text;
}

std::string switches_text(const Table& table, const RuleResult& result) {
  if (result.switches.empty()) return {};
  std::string text;
  for (const auto& [place, supply] : supplies_of(table, plan_of(table, result))) {
    const Range<Nanoseconds>& delay = supply->timing.on_delay;
    if (result.switches[place] == 0 || delay.low == delay.high) continue;
    text += text.empty() ? ", where `" + supply->name + "` switches on after " : ", `" + supply->name + "` after ";
    text += to_text(time_in(delay, result.switches[place]));
  }
  return text;
}

}  // namespace rampart::rules
