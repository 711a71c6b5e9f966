#include "runtime/predict/expectation_findings.h"

#include <algorithm>
#include <string>
#include <variant>

#include "lang/findings/predicted.h"
#include "lang/values/short_text.h"
#include "runtime/answer/expectations.h"

namespace rampart {
namespace {

// " at 40 ms, line 26"; the line only where it is in the same file as the expectation.
std::string when_reached(const ExpectationResult& result, const SourceSet& texts) {
  const Span& place = result.reached->statement;
  std::string text = " at " + to_text(result.reached->time_s, "s") + in_pass(result.reached->passes);
  if (place.end > place.begin && place.file == result.span.file) {
    text += ", line " + std::to_string(texts[place.file].position(place.begin).line);
  }
  return text;
}

// In more digits where it would read as its bound.
std::string reached_text(const ExpectationResult& result) {
  const std::string text = short_text(*result.value, result.unit);
  return text == short_text(result.bound, result.unit) ? to_text(*result.value, result.unit) : text;
}

void report_missed_figure(const Profile& profile, const ExpectationResult& result, FindingSink& findings,
                          const Stairs* stairs) {
  FindingSink::Addition finding =
      findings.report(finding::ExpectationFailed, result.span, result.text, reached_text(result),
                      result.reached ? when_reached(result, findings.texts()) : "",
                      short_text(-result.margin.value_or(0), result.unit));
  if (!result.reached || result.reached->statement.end <= result.reached->statement.begin) return;
  finding.note(finding::ValueReachedHere, result.reached->statement);
  const auto expected = std::find_if(profile.expectations.begin(), profile.expectations.end(),
                                     [&](const Expectation& one) { return one.span == result.span; });
  const auto* figure = expected == profile.expectations.end() ? nullptr : std::get_if<ExpectFigure>(&expected->what);
  if (stairs == nullptr || figure == nullptr || figure->figure != Figure::PeakCurrent || !figure->rail) return;
  const std::string words = stairs->words(*figure->rail, result.reached->statement, figure->bound.value.to_double());
  if (!words.empty()) finding.hint(words);
}

// Where a fault run trips although that was not expected, there is no other finding of it.
void report_trip_under_fault(const Profile& profile, const Simulation& simulation, const ExpectationResult& result,
                             FindingSink& findings) {
  for (std::size_t i = 0; i < profile.rails.size(); ++i) {
    const std::optional<Trip>& trip = simulation.rails[i].trip;
    if (!trip || trip->cause == TripCause::Linked) continue;
    findings.report(finding::TripUnderFault, result.span, result.text, profile.rails[i].name,
                    trip_cause_words(trip->cause), to_text(trip->time_s, "s"));
  }
}

}  // namespace

void report_expectations(const Profile& profile, const Simulation& simulation, const std::optional<std::string>& fault,
                         FindingSink& findings, const Stairs* stairs) {
  for (const ExpectationResult& result : judge_expectations(profile, simulation, fault)) {
    if (result.holds) continue;
    if (result.kind == ExpectationKind::NoTrip && result.under_fault) {
      report_trip_under_fault(profile, simulation, result, findings);
    } else if (result.kind == ExpectationKind::NoTrip) {
      // The trips themselves are errors already.
      findings.report(finding::NoTripExpected, result.span, static_cast<std::int64_t>(result.value.value_or(0)));
    } else if (!result.value) {
      findings.report(finding::ExpectationNotReached, result.span, result.text);
    } else {
      report_missed_figure(profile, result, findings, stairs);
    }
  }
}

}  // namespace rampart
