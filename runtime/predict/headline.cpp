#include "runtime/predict/headline.h"

#include <algorithm>
#include <map>
#include <set>

#include "compiler/rules/rules.h"
#include "lang/findings/predicted.h"
#include "lang/values/short_text.h"
#include "runtime/answer/margin_words.h"
#include "runtime/predict/tight_margins.h"

namespace rampart {
namespace {

// "fuse, overpower".
void append(std::string& list, const std::string& item, std::string_view between = ", ") {
  if (!list.empty()) list += between;
  list += item;
}

class HeadlineWriter {
 public:
  HeadlineWriter(const Answer& answer, bool strict)
      : answer_(answer), strict_(strict), simulation_(answer.predictions.shown()) {}

  Headline write() {
    count_findings();
    headline_.setpoints_only = simulation_ == nullptr;
    headline_.passes = headline_.errors == 0 && (!strict_ || headline_.warnings == 0);
    if (!answer_.compiled.run()) return std::move(headline_);
    if (simulation_ != nullptr) {
      headline_.incident = incident();
      add_trips();
      headline_.tightest = tight_margins(answer_, *simulation_);
      headline_.reached = reached_limits(answer_, *simulation_, headline_.tightest);
      if (headline_.tightest.size() > kTightest) headline_.tightest.resize(kTightest);
    }
    headline_.reason = reason();
    add_not_judged();
    return std::move(headline_);
  }

 private:
  void count_findings() {
    std::map<std::string_view, std::size_t> counts;  // of errors by name
    std::vector<std::string_view> names;             // of the failures
    for (const Finding& finding : answer_.findings.findings()) {
      if (finding.accepted) continue;
      headline_.errors += finding.severity == Severity::Error;
      headline_.warnings += finding.severity == Severity::Warning;
      if (finding.severity != Severity::Error || is_shown_trip(finding)) continue;
      const auto [told, is_new] = counts.try_emplace(finding.name, 0);
      if (is_new) {
        headline_.failures.push_back({finding.message, finding.span});
        names.push_back(finding.name);
      }
      ++told->second;
    }
    for (std::size_t i = 0; i < names.size(); ++i) {
      const std::size_t count = counts[names[i]];
      if (count > 1)
        headline_.failures[i].text += " (first of " + std::to_string(count) + " " + std::string(names[i]) + ")";
    }
  }

  // True of a trip of the run that is shown, which has a line of its own.
  [[nodiscard]] bool is_shown_trip(const Finding& finding) const {
    if (simulation_ == nullptr || finding.name != finding::TripPredicted.wording.name) return false;
    return std::ranges::any_of(
        simulation_->rails, [&](const RailFigures& rail) { return rail.trip && rail.trip->statement == finding.span; });
  }

  [[nodiscard]] std::string incident() const {
    std::string text = simulation_->fault ? "under `" + *answer_.predictions.fault + "`" : "";
    if (simulation_->asserted) append(text, "with an interlock asserted", " ");
    return text;
  }

  // Of the plain run, as the findings are.
  [[nodiscard]] std::string reason() const {
    std::string text;
    if (answer_.predictions.simulation) {
      const std::vector<RailFigures>& rails = answer_.predictions.simulation->rails;
      const auto trips = static_cast<std::size_t>(
          std::count_if(rails.begin(), rails.end(), [](const RailFigures& rail) { return rail.trip.has_value(); }));
      text = trips == 0 ? "no trip" : counted(trips, "trip");
    }
    append_rules(text);
    if (answer_.predictions.simulation && headline_.incident.empty()) append_expectations(text);
    return text;
  }

  // "4 rules hold", "3 of 4 rules hold".
  void append_rules(std::string& text) const {
    std::map<std::size_t, RuleVerdict> rules = rule_verdicts(
        answer_.compiled.rules(), answer_.predictions.simulation ? &*answer_.predictions.simulation : nullptr);
    std::erase_if(rules, [](const auto& rule) { return !rule.second.exercised; });
    std::size_t held = 0;
    for (const auto& [rule, verdict] : rules) held += verdict.holds;
    if (!rules.empty()) append(text, part_of(held, rules.size(), "rule") + (rules.size() == 1 ? " holds" : " hold"));
  }

  void append_expectations(std::string& text) const {
    const std::vector<ExpectationResult> expectations = answer_.predictions.expectations(*answer_.compiled.profile());
    std::size_t met = 0;
    for (const ExpectationResult& result : expectations) met += result.holds;
    if (!expectations.empty()) append(text, part_of(met, expectations.size(), "expectation") + " met");
  }

  static std::string part_of(std::size_t part, std::size_t all, std::string_view word) {
    return (part == all ? "" : std::to_string(part) + " of ") + counted(all, word);
  }

  void add_trips() {
    const Profile& profile = *answer_.compiled.profile();
    for (std::size_t i = 0; i < profile.rails.size(); ++i) {
      const std::optional<Trip>& trip = simulation_->rails[i].trip;
      if (!trip) continue;
      const RailId rail{static_cast<std::uint32_t>(i)};
      const std::optional<RailId> by = pulled_by(profile, *simulation_, rail);
      std::string text = profile.rails[i].name + " trips: " + std::string(trip_cause_words(trip->cause)) +
                         (by ? " with " + profile[*by].name : "") + ", at " + to_text(trip->time_s, "s") +
                         in_pass(trip->passes);
      const std::optional<std::string> fault = simulation_->fault ? answer_.predictions.fault : std::nullopt;
      if (trip_expected(profile, rail, trip->cause, fault)) text += ", as expected";
      headline_.trips.push_back({std::move(text), trip->statement});
    }
  }

  void add_not_judged() {
    std::vector<std::string>& list = headline_.not_judged;
    if (simulation_ == nullptr) {
      list.push_back("currents, trips and margins: " + why_not_simulated());
    }
    add_idle_rules();
    if (simulation_ == nullptr) return;
    add_idle_protections();
    std::set<RailId> given_up;
    for (const ModeChatter& chatter : simulation_->chatter) {
      if (!given_up.insert(chatter.rail).second) continue;
      list.push_back("rail `" + (*answer_.compiled.profile())[chatter.rail].name + "` after " +
                     to_text(chatter.time_s, "s") + ": an estimate only (mode-chatter)");
    }
    if (simulation_->cut_short) {
      list.push_back("the run after " + to_text(simulation_->cut_short->time_s, "s") + ": too long to simulate");
    }
    for (const Assumption& assumed : simulation_->assumed) {
      if (row_of(assumed.kind).leaves_unjudged) list.push_back(assumption_text(assumed));
    }
    if (!answer_.predictions.corners && !answer_.predictions.sample) {
      list.emplace_back("tolerances of load and supplies: `--corners` tries their ends");
    }
  }

  [[nodiscard]] std::string why_not_simulated() const {
    if (answer_.predictions.load) return "there is no simulation";
    if (!answer_.compiled.load()) return "no load file is given";
    return answer_.is_unreadable() ? "not simulated, the load file cannot be read"
                                   : "not simulated, the load file has errors";
  }

  void add_idle_rules() {
    std::size_t idle = 0;
    const std::map<std::size_t, RuleVerdict> rules = rule_verdicts(answer_.compiled.rules(), simulation_);
    std::string names;
    for (std::size_t i = 0; i < answer_.compiled.profile()->rules.size(); ++i) {
      const auto found = rules.find(i);
      if (found != rules.end() && found->second.exercised) continue;
      append(names, "`" + answer_.compiled.profile()->rules[i].name + "`");
      ++idle;
    }
    if (!names.empty())
      headline_.not_judged.push_back(std::string(idle == 1 ? "not exercised: rule " : "not exercised: rules ") + names);
  }

  void add_idle_protections() {
    for (const Margin& margin : simulation_->margins) {
      if (!never_acts(*answer_.compiled.profile(), margin, answer_.findings)) continue;
      headline_.not_judged.push_back(std::string(row_of(margin.kind).words) + " of " +
                                     owner_of(*answer_.compiled.profile(), margin) + ": it cannot act (" +
                                     std::string(row_of(margin.kind).never_acts->name) + ")");
    }
  }

  const Answer& answer_;
  bool strict_;
  const Simulation* simulation_;
  Headline headline_;
};

}  // namespace

std::map<std::size_t, RuleVerdict> rule_verdicts(const std::vector<RuleResult>& setpoints,
                                                 const Simulation* simulation) {
  std::map<std::size_t, RuleVerdict> rules;
  const auto take = [&rules](const RuleResult& result) {
    RuleVerdict& verdict = rules[result.rule];
    verdict.holds = verdict.holds && (!result.exercised || result.holds);
    verdict.exercised = result.exercised;
  };
  std::for_each(setpoints.begin(), setpoints.end(), take);
  if (simulation != nullptr) std::for_each(simulation->rules.begin(), simulation->rules.end(), take);
  // What is broken on one side was tried there.
  for (auto& [rule, verdict] : rules) verdict.exercised = verdict.exercised || !verdict.holds;
  return rules;
}

Headline headline_of(const Answer& answer, bool strict) {
  return HeadlineWriter(answer, strict).write();
}

std::string verdict_word(const Headline& headline) {
  if (!headline.passes) return "FAIL";
  return headline.setpoints_only ? "PASS (setpoints only)" : "PASS";
}

std::string verdict_text(const Headline& headline) {
  std::string text = verdict_word(headline);
  if (headline.passes) {
    if (headline.warnings > 0) text += " with " + counted(headline.warnings, "warning");
    return headline.reason.empty() ? text : text + ": " + headline.reason;
  }
  std::string found = headline.errors > 0 ? counted(headline.errors, "error") : "";
  if (headline.warnings > 0) append(found, counted(headline.warnings, "warning"));
  if (headline.errors == 0) found += " with --strict";
  return text + ": " + found + (headline.reason.empty() ? "" : "; " + headline.reason);
}

}  // namespace rampart
