#include "runtime/predict/spread/spread_findings.h"

#include <algorithm>
#include <cmath>

#include "compiler/rules/rule_findings.h"
#include "lang/findings/predicted.h"
#include "lang/values/short_text.h"
#include "runtime/answer/expectations.h"
#include "runtime/answer/wait_words.h"
#include "runtime/play/simulate.h"

namespace rampart::spread {
namespace {

// More deviations than this are told by their number.
constexpr std::size_t kMostNamed = 4;

std::string at_text(double time_s, const Passes& passes) {
  return " at " + to_text(time_s, "s") + in_pass(passes);
}

class Reporter {
 public:
  Reporter(const Runner& runner, const Corners& corners, FindingSink& findings)
      : runner_(runner), corners_(corners), findings_(findings) {}

  void report(const CornerFailure& failure) {
    const Simulation simulation = runner_.simulate(failure.at);
    where_ = failure.corners == 0
                 ? "with one tolerance at its end"
                 : "in " + std::to_string(failure.corners) + " of " + std::to_string(corners_.corners) + " corners";
    corner_ = corner_text(runner_.tolerances(), failure.at);
    // Only what another machine says can be otherwise here.
    if (!shows(failure, runner_.ledger().read(simulation))) {
      throw PartMistake{"the parts say that something fails with " + corner_ +
                        ", and a run of it here does not fail so: make them anew, with the same version"};
    }
    switch (failure.what) {
      case CornerFailure::What::Trip:
        report_trip(failure.index, simulation);
        break;
      case CornerFailure::What::Rule:
        report_rule(simulation.rules[runner_.ledger().readings()[failure.index].index]);
        break;
      case CornerFailure::What::Expectation:
        report_expectation(
            judge_expectations(runner_.profile(), simulation)[runner_.ledger().readings()[failure.index].index]);
        break;
      case CornerFailure::What::Wait:
        report_wait(simulation);
        break;
      case CornerFailure::What::GivenUp:
        report_given_up(simulation.chatter.front());
        break;
    }
  }

 private:
  void report_given_up(const ModeChatter& chatter) {
    findings_
        .report(*row_of(chatter.kind).finding, chatter.statement, runner_.profile()[chatter.rail].name, chatter.cycles,
                to_text(chatter.time_s, "s"))
        .hint(where_ + ", " + corner_ + ": " + std::string(row_of(chatter.kind).hint));
  }

  void report_trip(std::size_t rail, const Simulation& simulation) {
    const Trip& trip = *simulation.rails[rail].trip;
    // A linked rail follows the one that tripped by itself, which has its own finding.
    if (trip.cause == TripCause::Linked) return;
    findings_
        .report(finding::TripAtCorner, trip.statement, runner_.profile().rails[rail].name, trip_cause_words(trip.cause),
                at_text(trip.time_s, trip.passes), where_, corner_)
        .hint("leave the protection more room, or narrow the tolerance that causes the trip");
  }

  void report_rule(const RuleResult& result) {
    const Rule& rule = runner_.profile().rules[result.rule];
    const std::string by = result.margin ? " by " + short_text(-*result.margin, result.unit) : "";
    const bool is_outright = !result.margin && !result.holds_as_written;
    const std::string why = is_outright ? ": " + why_broken_outright(runner_.table(), result) : "";
    auto addition = findings_.report(finding::RuleAtCorner, rule.span, rule.name, where_, by,
                                     at_text(result.time_s, result.passes) + why, corner_);
    if (result.statement != Span{}) addition.note(finding::RuleWorstHere, result.statement);
  }

  void report_expectation(const ExpectationResult& result) {
    // Trips are errors already.
    if (result.kind == ExpectationKind::NoTrip) return;
    const std::string is = result.value ? "it is " + short_text(*result.value, result.unit) : "never reached";
    findings_.report(finding::ExpectationAtCorner, result.span, result.text, where_, is, corner_);
  }

  void report_wait(const Simulation& simulation) {
    const auto wait = std::find_if(simulation.awaited.begin(), simulation.awaited.end(),
                                   [](const Awaited& one) { return one.timed_out; });
    const std::string nearest = nearest_words(runner_.profile(), *wait);
    findings_
        .report(finding::WaitAtCorner, wait->statement, awaited_words(runner_.profile(), findings_.texts(), *wait),
                Nanoseconds{std::llround(wait->waited_s * 1e9)}, where_, corner_, nearest.empty() ? "" : ": " + nearest)
        .hint("allow more time, or await a level that the rail reaches");
  }

  const Runner& runner_;
  const Corners& corners_;
  FindingSink& findings_;
  std::string where_;
  std::string corner_;
};

}  // namespace

std::string corner_text(const std::vector<Tolerance>& tolerances, const Positions& at) {
  std::string text;
  std::size_t named = 0;
  for (std::size_t i = 0; i < at.size(); ++i) {
    if (at[i] == 0 || ++named > kMostNamed) continue;
    if (!text.empty()) text += ", ";
    text += tolerances[i].name + " at " + (at[i] < 0 ? tolerances[i].low : tolerances[i].high);
  }
  if (named > kMostNamed) text += " and " + std::to_string(named - kMostNamed) + " more off";
  return text;
}

void report_corners(const Runner& runner, const Corners& corners, FindingSink& findings) {
  Reporter reporter(runner, corners, findings);
  for (const CornerFailure& failure : corners.failures) reporter.report(failure);
}

}  // namespace rampart::spread
