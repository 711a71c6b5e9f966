#include <algorithm>
#include <cmath>

#include "runtime/answer/margin_words.h"
#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

Markup trips(const Subject& subject) {
  Markup items;
  for (std::size_t i = 0; i < subject.profile.rails.size(); ++i) {
    const std::optional<Trip>& trip = subject.simulation->rails[i].trip;
    if (!trip) continue;
    const std::optional<RailId> by =
        pulled_by(subject.profile, *subject.simulation, RailId{static_cast<std::uint32_t>(i)});
    items += element("li", text("rail ") + name(subject.profile.rails[i].name) + text(" trips by ") +
                               text(trip_cause_name(trip->cause)) +
                               (by ? text(" with ") + name(subject.profile[*by].name) : Markup()) + text(" at ") +
                               subject.at(trip->time_s) + text(", ") + subject.line_of(trip->statement));
  }
  return items;
}

// The errors in one line each: the same name is told once with a count.
Markup errors(const Subject& subject) {
  Markup items;
  std::vector<std::string_view> told;
  const auto& findings = subject.answer.findings.findings();
  for (const Finding& finding : findings) {
    if (finding.severity != Severity::Error) continue;
    if (std::find(told.begin(), told.end(), finding.name) != told.end()) continue;
    told.push_back(finding.name);
    const auto alike = std::count_if(findings.begin(), findings.end(), [&](const Finding& other) {
      return other.name == finding.name && other.severity == Severity::Error;
    });
    Markup item = message(finding.message) + text(" (") + subject.line_of(finding.span) + text(")");
    if (alike > 1) item += text(", and " + std::to_string(alike - 1) + " more of this kind");
    items += element("li", item);
  }
  return items;
}

Markup least_words(const Subject& subject) {
  if (subject.simulation == nullptr) return {};
  const Margin* least = least_margin(subject.profile, *subject.simulation, subject.answer.findings);
  if (least == nullptr) return {};
  const double share = least->limit != 0 ? 100 * least->margin / least->limit : 0;
  Markup words = element("strong", text("Least margin: ") + text(left_of(*least)) + text(" of ") +
                                       text(to_text(least->limit, row_of(least->kind).unit)) +
                                       text(" (" + to_text(std::round(share * 10) / 10, "") + " %), " +
                                            std::string(row_of(least->kind).name) + " of ") +
                                       name(owner_of(subject.profile, *least)));
  words += text(". When: ") + subject.at(least->time_s, least->rail, spell_of(*least)) + text(". Why: ") +
           text(reason_of(*least)) + text(". ");
  const auto line = [&](const Span& span, std::string_view what) {
    if (span.end <= span.begin) return Markup();
    return subject.line_of(span) + text(what) + element("code", text(subject.line_text(span)));
  };
  const Markup threshold = line(subject.threshold_of(*least), " sets the threshold, ");
  const Markup played = line(least->statement, " was set last, ");
  if (!threshold.empty() || !played.empty()) {
    words += text("To change it: ") + threshold + (threshold.empty() || played.empty() ? Markup() : text("; ")) +
             played + text(".");
  }
  return element("p", {{"class", "least"}}, words);
}

// The same over all corners.
Markup least_in_corners(const Subject& subject) {
  if (!subject.answer.predictions.corners) return {};
  const spread::Corners& corners = *subject.answer.predictions.corners;
  const std::vector<spread::Reading>& readings = subject.answer.predictions.varied->readings;
  std::optional<std::size_t> least;
  double least_share = 0;
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const std::optional<spread::Extreme>& low = corners.readings[i].low;
    if (!readings[i].margin || !low) continue;
    const std::optional<double> share = share_left(*readings[i].margin, low->value, readings[i].limit);
    if (!share || (least && *share >= least_share)) continue;
    least = i;
    least_share = *share;
  }
  std::string words = "Over the tolerances: " + std::to_string(corners.failing) + " of " +
                      std::to_string(corners.corners) + " corners have errors";
  if (corners.failing == 0) words = "Over the tolerances: holds in all " + std::to_string(corners.corners) + " corners";
  if (!least) return element("p", text(words + "."));
  const spread::Reading& reading = readings[*least];
  const double value = corners.readings[*least].low->value;
  return element("p", text(words + "; least there: " + to_text(value, reading.unit) + " of " +
                           to_text(reading.limit, reading.unit) + " (" +
                           to_text(std::round(1000 * least_share) / 10, "") + " %), " + reading.name + " of ") +
                          name(owner_of(subject.profile, reading)) + text(". ") +
                          element("a", {{"href", "#corners"}}, text("Corners")));
}

std::string counted(std::size_t count, std::string_view word) {
  return std::to_string(count) + " " + std::string(word) + (count == 1 ? "" : "s");
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

// "3 of 3 hold".
std::string held(std::size_t holding, std::size_t all) {
  return all == 0 ? "none" : std::to_string(holding) + " of " + std::to_string(all) + (all == 1 ? " holds" : " hold");
}

std::string rules_held(const Subject& subject) {
  std::size_t holding = 0;
  std::size_t all = 0;
  std::size_t idle = 0;
  const auto count = [&](const std::vector<RuleResult>& results) {
    all += results.size();
    for (const RuleResult& result : results) {
      if (!result.exercised) {
        ++idle;
      } else if (result.holds) {
        ++holding;
      }
    }
  };
  count(subject.answer.compiled.rules());
  if (subject.simulation != nullptr) count(subject.simulation->rules);
  return held(holding, all) + (idle > 0 ? ", " + std::to_string(idle) + " not exercised" : "");
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
    add("total energy", text(to_text(simulation->total_energy_J, "J")));
    add("total peak power", text(to_text(simulation->total_power_W.value, "W")));
  } else {
    add("duration", text(to_text(subject.answer.compiled.run_timeline()->duration())));
  }
  add("rails", text(std::to_string(subject.profile.rails.size())));
  add("findings", text(finding_counts(subject)));
  add(has_incident(subject) ? "rule verdicts, simulated ones of this run" : "rule verdicts", text(rules_held(subject)));
  if (simulation != nullptr) {
    const auto holding = std::count_if(subject.expectations.begin(), subject.expectations.end(),
                                       [](const ExpectationResult& result) { return result.holds; });
    add("expectations", text(held(static_cast<std::size_t>(holding), subject.expectations.size())));
  }
  return element("dl", {{"class", "facts"}}, list);
}

// What a reader of the verdict alone would miss.
Markup warnings(const Subject& subject) {
  const auto& findings = subject.answer.findings.findings();
  const auto count = std::count_if(findings.begin(), findings.end(), [](const Finding& finding) {
    return !finding.accepted && finding.severity == Severity::Warning;
  });
  if (count == 0) return {};
  return text(", with ") +
         element("a", {{"href", "#findings"}}, text(counted(static_cast<std::size_t>(count), "warning")));
}

}  // namespace

Markup verdict_section(const Subject& subject) {
  const bool fails = subject.fails();
  std::string_view word = fails ? "does not hold" : "holds";
  if (!fails && subject.simulation == nullptr) word = "holds on its setpoints";
  if (!fails && has_incident(subject)) word = "holds where nothing befalls it";
  Markup inside = element("p", {{"class", fails ? "verdict bad" : "verdict good"}},
                          element("span", {{"aria-hidden", "true"}, {"class", "sign"}}, text(fails ? "✗" : "✓")) +
                              text(" This profile ") + element("strong", text(word)) + warnings(subject));
  if (fails) inside += element("ul", {{"class", "failures"}}, errors(subject));
  if (subject.simulation == nullptr) {
    inside += element("p", text("No load is given, so nothing is simulated: the charts show setpoints alone."));
  } else {
    if (subject.simulation->fault) {
      inside += element("p", text("In this run the fault ") + name(*subject.answer.predictions.fault) +
                                 text(" acts at ") + subject.at(subject.simulation->fault->time_s) + text("."));
    }
    if (subject.simulation->asserted) inside += element("p", text("In this run an interlock acts."));
    const Markup tripped = trips(subject);
    inside += tripped.empty() ? element("p", text("No protection trips.")) : element("ul", tripped);
  }
  inside += least_words(subject) + least_in_corners(subject) + facts(subject);
  return section("verdict", "Verdict", inside);
}

}  // namespace rampart::report
