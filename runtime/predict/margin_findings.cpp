#include "runtime/predict/margin_findings.h"

#include <algorithm>
#include <cmath>

#include "lang/findings/limits.h"
#include "lang/findings/predicted.h"

namespace rampart {
namespace {

// Less of a limit than this left is too little for what the model does not know. Common practice, no source.
constexpr double kThinShare = 0.02;
// Of a limit: what calculating leaves behind.
constexpr double kNothing = 1e-9;

void report_exceeded(const Profile& profile, const Margin& margin, FindingSink& findings) {
  const std::string taken = to_text(margin.limit - margin.margin, margin.unit);
  const std::string at = to_text(margin.time_s, "s");
  const std::string more = to_text(-margin.margin, margin.unit);
  const std::string limit = to_text(margin.limit, margin.unit);
  if (margin.what == "power-envelope") {
    findings
        .report(finding::PowerExceeded, margin.statement, profile[margin.rail].name, taken, at, in_pass(margin.passes),
                more, limit, margin.owner)
        .hint("lower the setpoint or the current limit, or use an output that can give it");
  } else if (margin.what == "total-power") {
    findings
        .report(finding::TotalPowerExceeded, margin.statement, margin.owner, taken, at, in_pass(margin.passes), more,
                limit)
        .hint("draw less at one time, or move a rail to another supply");
  }
}

void report_thin(const Profile& profile, const Margin& margin, FindingSink& findings, const FuseDelays* delays) {
  const std::string left = to_text(margin.margin, margin.unit);
  const std::string limit = to_text(margin.limit, margin.unit);
  const std::string pass = in_pass(margin.passes);
  const std::int64_t percent = std::llround(100 * margin.margin / margin.limit);
  const std::string& rail = profile[margin.rail].name;
  if (margin.what == "settling") {
    findings.report(finding::ThinSettling, margin.statement, rail, left, percent, limit, pass)
        .hint("dwell longer: a load with a little more capacitance is not there in time");
  } else if (margin.what == "power-envelope") {
    findings.report(finding::ThinPower, margin.statement, rail, left, margin.owner, percent, limit, pass)
        .hint("leave room for what the model does not know, or use an output that can give more");
  } else if (margin.what == "total-power") {
    findings.report(finding::ThinTotalPower, margin.statement, margin.owner, left, percent, limit, pass)
        .hint("leave room for what the model does not know, or move a rail to another supply");
  } else {
    const std::string advice = margin.what == "fuse" && delays != nullptr ? ": " + delay_advice(*delays) : "";
    findings.report(finding::ThinMargin, margin.statement, margin.what, rail, left, percent, limit, pass)
        .hint("leave room for what the model does not know, or check it with the tolerances of the load" + advice);
  }
}

}  // namespace

std::string in_pass(const Passes& passes) {
  return passes.empty() ? std::string() : " in pass " + std::to_string(passes.back());
}

// What went beyond a limit is a trip or a setpoint that was missed, which has its own finding; what just touches it
// has none, and comes closest of all. That a current comes near its limit is no matter by itself: what comes of it is
// for the fuse's margin.
void report_margins(const Profile& profile, const Simulation& simulation, FindingSink& findings,
                    const std::vector<FuseDelays>& delays) {
  for (const Margin& margin : simulation.margins) {
    const bool exceeded = margin.margin < -kNothing * margin.limit;
    // How long it was exceeded has a margin of its own.
    if (margin.what == "overpower-level" && exceeded) continue;
    if (exceeded) {
      report_exceeded(profile, margin, findings);
      continue;
    }
    // A protection without delay acts at the first touch, so there is nothing to come close in.
    if (margin.what == "current-limit" || margin.limit <= 0) continue;
    const bool tripped = simulation.rails[static_cast<std::size_t>(margin.rail)].trip.has_value();
    if (tripped || margin.margin >= kThinShare * margin.limit) continue;
    Margin left = margin;
    left.margin = std::max(left.margin, 0.0);
    report_thin(profile, left, findings, find_delays(delays, margin.rail));
  }
}

}  // namespace rampart
