#include <algorithm>
#include <cstddef>
#include <map>

#include "lang/values/short_text.h"
#include "runtime/answer/margin_words.h"
#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

Markup lines(const Subject& subject, const std::vector<HeadlineLine>& all, std::string_view kind) {
  Markup items;
  for (const HeadlineLine& line : all) {
    const Markup place = subject.line_of(line.place);
    items += element("li", message(line.text) + (place.empty() ? Markup() : text(" (") + place + text(")")));
  }
  return items.empty() ? Markup() : element("ul", {{"class", std::string(kind)}}, items);
}

Markup tightest(const Subject& subject) {
  const std::vector<TightMargin>& margins = subject.headline.tightest;
  const std::string& incident = subject.headline.incident;
  HtmlTable table("Tightest margins" + (incident.empty() ? "" : " of the run " + incident) +
                      ", by the share of their limit that is left",
                  {"margin", "left", "#share", "when, or in which corner", "last change", "threshold set in"});
  for (const TightMargin& tight : margins) {
    const Margin& nominal = *tight.nominal;
    const Markup when =
        tight.corner.empty() ? subject.at(nominal.time_s, nominal.rail, spell_of(nominal)) : name(tight.corner);
    table.add_row(tight.margin < 0 ? "broken" : "",
                  {name(tight.what), text(tight.left), text(tight.share), when, subject.line_of(nominal.statement),
                   subject.line_of(subject.threshold_of(nominal))});
  }
  if (margins.empty()) return {};
  Markup why;
  if (margins.front().corner.empty()) {
    why = element("p", text("The tightest one: ") + text(reason_of(*margins.front().nominal)) + text("."));
  }
  return table.markup() + why;
}

Markup reached(const Subject& subject) {
  const Markup items = lines(subject, subject.headline.reached, "reached");
  return items.empty() ? Markup() : element("h3", text("Limits reached, without a trip")) + items;
}

Markup not_judged(const Subject& subject) {
  Markup items;
  for (const std::string& what : subject.headline.not_judged) items += element("li", message(what));
  return items.empty() ? Markup() : element("h3", text("Not judged")) + element("ul", items);
}

Markup over_corners(const Subject& subject) {
  if (!subject.answer.predictions.corners) return {};
  const spread::Corners& corners = *subject.answer.predictions.corners;
  const std::string words = corners.failing == 0
                                ? "Over the tolerances: PASS in all " + std::to_string(corners.corners) + " corners. "
                                : "Over the tolerances: FAIL in " + std::to_string(corners.failing) + " of " +
                                      std::to_string(corners.corners) + " corners. ";
  return element("p", text(words) + element("a", {{"href", "#corners"}}, text("Corners")));
}

std::string finding_counts(const Subject& subject) {
  std::size_t accepted = 0;
  std::size_t counts[3] = {0, 0, 0};
  for (const Finding& finding : subject.answer.findings.findings()) {
    ++(finding.accepted ? accepted : counts[static_cast<std::size_t>(finding.severity)]);
  }
  std::string words;
  const auto add = [&](const std::string& part) { words += (words.empty() ? "" : ", ") + part; };
  for (const Severity severity : {Severity::Error, Severity::Warning, Severity::Note}) {
    const std::size_t count = counts[static_cast<std::size_t>(severity)];
    if (count > 0) add(counted(count, severity_name(severity)));
  }
  if (accepted > 0) add(std::to_string(accepted) + " accepted");
  return words.empty() ? "none" : words;
}

// "3 of 3".
std::string held(std::size_t holding, std::size_t all) {
  return all == 0 ? "none" : std::to_string(holding) + " of " + std::to_string(all) + " PASS";
}

std::string rules_held(const Subject& subject) {
  std::size_t holding = 0;
  std::size_t idle = 0;
  const std::map<std::size_t, RuleVerdict> rules = rule_verdicts(subject.answer.compiled.rules(), subject.simulation);
  for (const auto& [rule, verdict] : rules) {
    idle += !verdict.exercised;
    holding += verdict.exercised && verdict.holds;
  }
  return held(holding, rules.size()) + (idle > 0 ? ", " + std::to_string(idle) + " not exercised" : "");
}

// What is shown is not the run that the verdict is of.
bool has_incident(const Subject& subject) {
  return subject.simulation != nullptr && (subject.simulation->fault || subject.simulation->asserted);
}

Markup facts(const Subject& subject) {
  Markup list;
  const auto add = [&](std::string_view what, const Markup& value) {
    list += element("div", element("dt", text(what)) + element("dd", value));
  };
  const Simulation* simulation = subject.simulation;
  if (simulation != nullptr) {
    add("duration", text(to_text(simulation->duration_s, "s")));
    add("total energy", text(short_text(simulation->total_energy_J, "J")));
    add("peak power of all rails", text(short_text(simulation->total_power_W.value, "W")));
  } else {
    add("duration", text(to_text(subject.answer.compiled.run_timeline()->duration())));
  }
  add("rails", text(std::to_string(subject.profile.rails.size())));
  add("findings", text(finding_counts(subject)));
  add(has_incident(subject) ? "rule verdicts (simulated ones: this run)" : "rule verdicts", text(rules_held(subject)));
  if (simulation != nullptr) {
    const auto holding = std::count_if(subject.expectations.begin(), subject.expectations.end(),
                                       [](const ExpectationResult& result) { return result.holds; });
    add("expectations", text(held(static_cast<std::size_t>(holding), subject.expectations.size())));
  }
  return element("dl", {{"class", "facts"}}, list);
}

}  // namespace

Markup verdict_section(const Subject& subject) {
  const Headline& headline = subject.headline;
  const std::string word = verdict_word(headline);
  const Markup words = element("strong", text(word)) + text(verdict_text(headline).substr(word.size()));
  const bool passes = headline.passes;
  Markup inside =
      element("p", {{"class", passes ? "verdict good" : "verdict bad"}},
              element("span", {{"aria-hidden", "true"}, {"class", "sign"}}, text(passes ? "✓ " : "✗ ")) + words);
  inside += lines(subject, headline.failures, "failures");
  if (subject.simulation != nullptr && subject.simulation->fault) {
    inside += element("p", text("In this run the fault ") + name(*subject.answer.predictions.fault) +
                               text(" acts at ") + subject.at(subject.simulation->fault->time_s) + text("."));
  }
  if (subject.simulation != nullptr && subject.simulation->asserted) {
    inside += element("p", text("In this run an interlock acts."));
  }
  inside += lines(subject, headline.trips, "trips") + over_corners(subject) + tightest(subject);
  inside += reached(subject) + not_judged(subject) + facts(subject);
  return section("verdict", "Verdict", inside);
}

}  // namespace rampart::report
