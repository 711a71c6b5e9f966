#include "compiler/timeline/timeline.h"

#include <algorithm>
#include <limits>

#include "compiler/timeline/branch_conflicts.h"
#include "compiler/timeline/loop_measure.h"
#include "lang/findings/timeline.h"
#include "lang/text/overloaded.h"

namespace rampart {
namespace {

void collect(const Program& program, std::vector<const Statement*>& loops, bool& has_segments) {
  for (const Statement& statement : program) {
    std::visit(Overloaded{
                   [&](const Repeat& loop) {
                     loops.push_back(&statement);
                     collect(loop.body, loops, has_segments);
                   },
                   [&](const Together& group) {
                     for (const Program& branch : group.branches) collect(branch, loops, has_segments);
                   },
                   [&](const Track& track) { collect(track.body, loops, has_segments); },
                   [&](const Await&) { has_segments = true; },
                   [](const auto&) {},
               },
               statement.what);
  }
}

}  // namespace

LoopId Timeline::loop_id(const Statement& repeat) const {
  const auto found = std::lower_bound(loops_.begin(), loops_.end(), &repeat);
  return LoopId{static_cast<std::uint32_t>(found - loops_.begin())};
}

std::optional<Timeline> build_timeline(const Profile& profile, const Program& program, TimelineStart start,
                                       FindingSink& findings) {
  const std::size_t errors_before = findings.error_count();
  check_branches(profile, program, findings);
  if (findings.error_count() > errors_before) return std::nullopt;

  Timeline timeline;
  timeline.profile_ = &profile;
  timeline.program_ = &program;
  RailState initial;
  if (start == TimelineStart::Unknown) initial.known = {false, false, false};
  timeline.initial_.assign(profile.rails.size(), initial);
  collect(program, timeline.loops_, timeline.has_segments_);
  std::sort(timeline.loops_.begin(), timeline.loops_.end());

  // A loop that shifts more often than it may is found at twice as many passes at the latest, and the loops around it
  // have as many in all.
  LoopMeter meter(profile, 4 * kMaxShiftingPasses);
  const Setpoints entry{timeline.initial_, std::vector<bool>(profile.lines.size()), {}};
  const ProgramMeasure total = meter.measure(program, entry);
  findings.append(meter.findings().take());
  const Span whole = program.empty() ? profile.run_span : join(program.front().span, program.back().span);
  if (!fits_int64(total.length + total.waits)) findings.report(finding::TooLong, whole);
  const bool unbounded = findings.error_count() > errors_before;
  if (!unbounded && total.walked_passes > static_cast<double>(kMaxWalkedPasses)) {
    findings.report(finding::TooManyWalkedPasses, whole, kMaxWalkedPasses).hint("nest fewer repeats in each other");
  }
  if (findings.error_count() > errors_before) return std::nullopt;
  timeline.duration_ = Nanoseconds{static_cast<std::int64_t>(total.length + total.waits)};
  return timeline;
}

}  // namespace rampart
