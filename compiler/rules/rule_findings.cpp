#include "compiler/rules/rule_findings.h"

#include <algorithm>

#include "lang/findings/predicted.h"
#include "lang/findings/timeline.h"
#include "lang/text/overloaded.h"

namespace rampart {
namespace {

constexpr int kMaxCallsShown = 8;

std::string_view side_text(RuleSide side) {
  return side == RuleSide::Setpoints ? "on the setpoints" : "in the simulation";
}

std::string why_not_exercised(const Profile& profile, const Rule& rule) {
  return std::visit(Overloaded{
                        [](const AlwaysRule& always) -> std::string {
                          return always.premise ? "what stands after `while` never holds" : "the run takes no time";
                        },
                        [](const BeforeRule&) -> std::string { return "what stands after `before` never comes"; },
                        [](const WithinRule&) -> std::string {
                          return "what stands after `after` never comes, or too late in the run to tell";
                        },
                        [&](const MonotonicRule& monotonic) {
                          return "`" + profile[monotonic.rail].name + "` never goes from " + to_text(monotonic.from) +
                                 " to " + to_text(monotonic.to);
                        },
                    },
                    rule.what);
}

// What is wrong with a rule whose distance has no measure.
std::string_view why_broken_outright(const Rule& rule) {
  return std::holds_alternative<AlwaysRule>(rule.what) ? "a voltage jumps"
                                                       : "what it asks for does not come before the run ends";
}

class RuleReporter {
 public:
  RuleReporter(const Profile& profile, FindingSink& findings) : profile_(profile), findings_(findings) {}

  // Null: not judged on this side.
  void report(const Rule& rule, const RuleResult* setpoints, const RuleResult* simulated) {
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
                       why_not_exercised(profile_, rule));
      return;
    }
  }

  void report_broken(const Rule& rule, const RuleResult& result) {
    const std::string_view side = side_text(result.side);
    const std::string at = to_text(result.time_s, "s");
    const std::string pass = in_pass(result.passes);
    auto addition = [&] {
      if (result.holds_as_written) {
        if (!result.nominal || !result.margin) {
          return findings_.report(finding::RuleUnsure, rule.span, rule.name, side, at, pass);
        }
        return findings_.report(finding::RuleBrokenByAllowance, rule.span, rule.name, side,
                                to_text(*result.nominal, result.unit),
                                to_text(*result.nominal - *result.margin, result.unit), at, pass);
      }
      // It may come late as written, and accuracy may keep it from coming at all.
      const std::optional<double>& distance = result.margin ? result.margin : result.nominal;
      if (!distance) {
        return findings_.report(finding::RuleBrokenOutright, rule.span, rule.name, side, at, pass,
                                why_broken_outright(rule));
      }
      return findings_.report(finding::RuleBroken, rule.span, rule.name, side, to_text(-*distance, result.unit), at,
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
  const Profile& profile_;
  FindingSink& findings_;
};

const RuleResult* result_of(const std::vector<RuleResult>& results, std::size_t rule) {
  const auto found =
      std::find_if(results.begin(), results.end(), [&](const RuleResult& result) { return result.rule == rule; });
  return found == results.end() ? nullptr : &*found;
}

}  // namespace

void report_rules(const Profile& profile, const std::vector<RuleResult>& setpoints,
                  const std::vector<RuleResult>* simulated, FindingSink& findings) {
  RuleReporter reporter(profile, findings);
  for (std::size_t i = 0; i < profile.rules.size(); ++i) {
    reporter.report(profile.rules[i], result_of(setpoints, i),
                    simulated != nullptr ? result_of(*simulated, i) : nullptr);
  }
}

void report_broken_rules(const Profile& profile, const std::vector<RuleResult>& setpoints, FindingSink& findings) {
  RuleReporter reporter(profile, findings);
  for (const RuleResult& result : setpoints) {
    if (!result.holds) reporter.report_broken(profile.rules[result.rule], result);
  }
}

}  // namespace rampart
