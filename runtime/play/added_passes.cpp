#include "runtime/play/added_passes.h"

#include <algorithm>

#include "runtime/fold/drift.h"

namespace rampart {

void AddedPasses::note_walked(const PassEnded& pass) {
  if (FoldedLoop* loop = record_of(pass)) ++loop->simulated;
}

FoldedLoop& AddedPasses::skip(Run& run, const PassEnded& pass, std::int64_t count, const Instant& added,
                              bool new_segments, bool drifting) {
  TablePlace& place = run.place;
  place.cursor.skip_passes(count);
  // Within one segment the table's own clock has moved; a pass of several segments starts each at 0.
  if (new_segments) place.base = place.base.plus(added);
  return note(run, pass, count, added, drifting);
}

FoldedLoop& AddedPasses::note(Run& run, const PassEnded& pass, std::int64_t count, const Instant& added,
                              bool drifting) {
  TablePlace& place = run.place;
  Event event;
  event.time_s = place.now.seconds();
  event.kind = EventKind::Passes;
  event.statement = pass.statement;
  event.passes = place.passes;
  event.count = count;
  event.drifting = drifting;
  place.now = place.now.plus(added);
  event.to_s = place.now.seconds();
  run.rig.events().add(std::move(event));
  FoldedLoop* loop = record_of(pass);
  if (loop == nullptr) loop = &loops_.emplace_back(FoldedLoop{pass.statement, pass.pass, 0});
  loop->added += count;
  if (drifting) loop->drifting += count;
  return *loop;
}

std::vector<FoldedLoop> AddedPasses::answer() const {
  std::vector<FoldedLoop> result = loops_;
  for (FoldedLoop& loop : result) loop.error = told_error(loop.error);
  return result;
}

FoldedLoop* AddedPasses::record_of(const PassEnded& pass) {
  const auto found = std::find_if(loops_.begin(), loops_.end(),
                                  [&](const FoldedLoop& loop) { return loop.statement == pass.statement; });
  return found == loops_.end() ? nullptr : &*found;
}

}  // namespace rampart
