#include "compiler/rules/rule_findings.h"

#include <algorithm>

#include "compiler/profile/approach_words.h"
#include "compiler/rules/losses.h"
#include "compiler/rules/rule_plan.h"
#include "lang/findings/predicted.h"
#include "lang/findings/timeline.h"
#include "lang/text/overloaded.h"
#include "lang/values/short_text.h"

namespace rampart {
namespace {

constexpr int kMaxCallsShown = 8;

std::string_view side_text(RuleSide side) {
  return side == RuleSide::Setpoints ? "on the setpoints" : "in the simulation";
}

// What of a condition that is never met: ": `core` reaches at most 4.975 V"; empty where the condition is met.
std::string approach_text(const Profile& profile, const rules::RulePlan& plan, const RuleResult& result,
                          std::size_t condition) {
  if (condition >= result.nearest.size() || !result.nearest[condition]) return {};
  const double nearest = *result.nearest[condition];
  const std::vector<ConditionNode>& nodes = plan.conditions[condition].nodes;
  const LinearForm& form = nodes.front().comparison.form;
  // Distances of unlike units have no measure together.
  const bool is_alike = std::all_of(nodes.begin(), nodes.end(), [&form](const ConditionNode& node) {
    return node.op != Truth::Compare || node.comparison.form.unit == form.unit;
  });
  if (!is_alike) return {};
  if (nodes.size() > 1) return ": it misses by at least " + to_text(-nearest, unit_text(form.unit));
  return ": " + approach_words(profile, form, nearest);
}

std::string why_not_exercised(const Profile& profile, const rules::RulePlan& plan, const RuleResult& result) {
  const auto approach = [&](std::size_t condition) { return approach_text(profile, plan, result, condition); };
  if (plan.rule->phase && result.nearest.empty()) return "mark `" + plan.rule->phase->from + "` is not reached";
  const std::string_view time = plan.rule->phase ? "its phase takes no time" : "the run takes no time";
  return std::visit(Overloaded{
                        [&](const AlwaysRule& always) -> std::string {
                          return always.premise ? "the condition after `while` is never true" + approach(1)
                                                : std::string(time);
                        },
                        [&](const BeforeRule&) -> std::string {
                          return "the condition after `before` never becomes true" + approach(1);
                        },
                        [&](const WithinRule&) -> std::string {
                          const std::string nearest = approach(1);
                          return "the condition after `after` never becomes true" +
                                 (nearest.empty() ? ", or only too late in the run to judge" : nearest);
                        },
                        [&](const MonotonicRule& monotonic) {
                          const std::string left = approach(0);
                          return "`" + profile[monotonic.rail].name + "` never goes from " + to_text(monotonic.from) +
                                 " to " + to_text(monotonic.to) + (left.empty() ? approach(1) : left);
                        },
                    },
                    plan.rule->what);
}

class RuleReporter {
 public:
  RuleReporter(const Table& run, FindingSink& findings)
      : run_(run), profile_(run.profile()), plans_(rules::plan_rules(run)), findings_(findings) {}

  // Null: not judged on this side.
  void report(std::size_t index, const RuleResult* setpoints, const RuleResult* simulated) {
    const Rule& rule = profile_.rules[index];
    if (plans_[index].is_endless) return;
    if (setpoints != nullptr && !setpoints->holds) return;
    if (simulated != nullptr && !simulated->holds) {
      report_broken(rule, *simulated);
      return;
    }
    if (setpoints == nullptr && simulated == nullptr) {
      findings_.report(finding::RuleNeedsLoad, rule.span, rule.name)
          .hint("name a load in the profile or give one with --load FILE");
      return;
    }
    for (const RuleResult* result : {setpoints, simulated}) {
      if (result == nullptr || result->exercised) continue;
      // Where the setpoints do not even call for it, the simulation has nothing to add.
      const bool only_simulated = result->side == RuleSide::Simulated && setpoints != nullptr;
      findings_.report(finding::RuleNotExercised, rule.span, rule.name, only_simulated ? " in the simulation" : "",
                       why_not_exercised(profile_, plans_[result->rule], *result));
      return;
    }
  }

  void report_broken(const Rule& rule, const RuleResult& result) {
    const std::string_view side = side_text(result.side);
    const std::string at = to_text(result.time_s, "s");
    const std::string pass = in_pass(result.passes) + rules::switches_text(run_, result);
    auto addition = [&] {
      if (result.holds_as_written) {
        const std::string losses = rules::losses_text(rules::losses_of(run_, result), result.unit);
        if (!result.nominal || !result.margin) {
          return findings_.report(finding::RuleUnsure, rule.span, rule.name, side, losses, at, pass);
        }
        return findings_.report(finding::RuleBrokenByAllowance, rule.span, rule.name, side,
                                short_text(*result.nominal, result.unit), losses, at, pass);
      }
      // It may come late as written, and accuracy may keep it from coming at all.
      const std::optional<double>& distance = result.margin ? result.margin : result.nominal;
      if (!distance) {
        return findings_.report(finding::RuleBrokenOutright, rule.span, rule.name, side, at, pass,
                                why_broken_outright(run_, result));
      }
      return findings_.report(finding::RuleBroken, rule.span, rule.name, side, short_text(-*distance, result.unit), at,
                              pass);
    }();
    if (result.statement == Span{}) return;
    addition.note(finding::RuleWorstHere, result.statement);
    int shown = 0;
    for (CallId call = result.call; call != kNoCall && shown < kMaxCallsShown; ++shown) {
      addition.note(finding::CalledFromHere, profile_.calls[call].span);
      call = profile_.calls[call].caller;
    }
  }

 private:
  const Table& run_;
  const Profile& profile_;
  std::vector<rules::RulePlan> plans_;  // by rule
  FindingSink& findings_;
};

const RuleResult* result_of(const std::vector<RuleResult>& results, std::size_t rule) {
  const auto found =
      std::find_if(results.begin(), results.end(), [&](const RuleResult& result) { return result.rule == rule; });
  return found == results.end() ? nullptr : &*found;
}

}  // namespace

std::string why_broken_outright(const Table& run, const RuleResult& result) {
  const rules::RulePlan plan = rules::plan_rules(run)[result.rule];
  if (std::holds_alternative<AlwaysRule>(plan.rule->what)) return "a voltage jumps";
  return "the condition does not become true before the run ends" + approach_text(run.profile(), plan, result, 0);
}

void report_rules(const Table& run, const std::vector<RuleResult>& setpoints, const std::vector<RuleResult>* simulated,
                  FindingSink& findings) {
  RuleReporter reporter(run, findings);
  const Profile& profile = run.profile();
  for (std::size_t i = 0; i < profile.rules.size(); ++i) {
    reporter.report(i, result_of(setpoints, i), simulated != nullptr ? result_of(*simulated, i) : nullptr);
  }
}

void report_broken_rules(const Table& run, const std::vector<RuleResult>& setpoints, FindingSink& findings) {
  RuleReporter reporter(run, findings);
  for (const RuleResult& result : setpoints) {
    if (!result.holds) reporter.report_broken(run.profile().rules[result.rule], result);
  }
}

}  // namespace rampart
