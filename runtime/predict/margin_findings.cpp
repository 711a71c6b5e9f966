#include "runtime/predict/margin_findings.h"

#include <algorithm>
#include <cmath>

#include "runtime/answer/margin_words.h"

namespace rampart {
namespace {

// Less of a limit than this left is too little for what the model does not know. Common practice, no source.
constexpr double kThinShare = 0.02;
// Of a limit: what calculating leaves behind.
constexpr double kNothing = 1e-9;

MarginReport words_of(const Profile& profile, const Margin& margin, const std::vector<FuseDelays>& delays) {
  const MarginRow& row = row_of(margin.kind);
  const FuseDelays* fuse = margin.kind == MarginKind::Fuse ? find_delays(delays, margin.rail) : nullptr;
  return {.statement = margin.statement,
          .kind = std::string(row.trips_by ? trip_cause_words(*row.trips_by) : row.words),
          .rail = profile[margin.rail].name,
          .owner = margin.owner,
          .reached = to_text(margin.limit - margin.margin, row.unit),
          .limit = to_text(margin.limit, row.unit),
          .distance = to_text(std::abs(margin.margin), row.unit),
          .percent = std::llround(100 * margin.margin / margin.limit),
          .at = to_text(margin.time_s, "s"),
          .in_pass = in_pass(margin.passes),
          .advice = fuse != nullptr ? ": " + delay_advice(*fuse) : ""};
}

}  // namespace

// What went beyond a limit is a trip or a setpoint that was missed, which has its own finding; what just touches it
// has none, and comes closest of all. That a current comes near its limit is no matter by itself: what comes of it is
// for the fuse's margin.
void report_margins(const Profile& profile, const Simulation& simulation, FindingSink& findings,
                    const std::vector<FuseDelays>& delays) {
  for (const Margin& margin : simulation.margins) {
    const MarginRow& row = row_of(margin.kind);
    if (margin.margin < -kNothing * margin.limit) {
      if (row.report_exceeded != nullptr) row.report_exceeded(words_of(profile, margin, delays), findings);
      continue;
    }
    // A protection without delay acts at the first touch, so there is nothing to come close in.
    if (row.report_thin == nullptr || margin.limit <= 0) continue;
    const bool tripped = simulation.rails[static_cast<std::size_t>(margin.rail)].trip.has_value();
    if (tripped || margin.margin >= kThinShare * margin.limit) continue;
    // That a protection cannot act has its own finding.
    if (never_acts(profile, margin, findings)) continue;
    Margin left = margin;
    left.margin = std::max(left.margin, 0.0);
    row.report_thin(words_of(profile, left, delays), findings);
  }
}

}  // namespace rampart
