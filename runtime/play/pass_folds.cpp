#include "runtime/play/pass_folds.h"

#include "runtime/play/load_clock.h"

namespace rampart {

void PassFolds::forget() {
  forget_ends();
  forget_phases();
}

namespace {

// Readings that begin so little before a pass, s, begin with it.
constexpr double kShortestReach = 1e-12;

}  // namespace

void PassFolds::note_reading(const Instant& begin) {
  for (const auto& [loop, end] : ends_) {
    const auto [known, is_new] = reading_begins_.try_emplace(loop, begin);
    if (!is_new && begin.since(known->second) < 0) known->second = begin;
  }
}

double PassFolds::reach_of(LoopId loop, const PassState& before) const {
  const auto begin = reading_begins_.find(loop);
  return begin == reading_begins_.end() ? 0 : before.time.since(begin->second) - kShortestReach;
}

bool PassFolds::add_by_phase(const FoldSite& site, const PassEnded& pass) {
  if (!phased_.add(site, pass, added_)) return false;
  forget_ends();
  return true;
}

PassState PassFolds::end_of(const FoldSite& site, const PassEnded& pass) const {
  PassState state = state_at(site.run, pass);
  state.drifts = drifting_.count();
  state.waits = site.incidents.waits_taken();
  return state;
}

void PassFolds::add_alike(const FoldSite& site, const PassEnded& pass) {
  PassState state = end_of(site, pass);
  const auto known = ends_.find(pass.loop);
  if (known == ends_.end() || known->second.outer != state.outer || known->second.pass >= pass.pass) {
    reading_begins_.erase(pass.loop);
    ends_.insert_or_assign(pass.loop, std::move(state));
    return;
  }
  PassState& before = known->second;
  const std::int64_t walked = pass.pass - before.pass;
  if (walked == pass.unit) {
    before.units =
        phase_units(site.pulses, Instant{state.time.whole - before.time.whole, state.time.rest - before.time.rest});
  }
  PassEnded unit = pass;
  unit.unit *= before.units;
  if (walked < unit.unit) return;
  const double reach = reach_of(pass.loop, before);
  reading_begins_.erase(pass.loop);
  if (walked == unit.unit && pass.remaining >= unit.unit) {
    const bool is_same = same_state(before, state);
    if (is_same) state.alike_s = before.alike_s + state.time.since(before.time);
    if (is_same && before.alike_s < reach) {
      // The readings of these passes saw what was before them.
    } else if (is_same) {
      const std::int64_t units = site.times_to_add(pass.remaining / unit.unit, before, state);
      if (units > 0) {
        const Instant added = repeat(site.run.rig, before, state, units);
        if (site.sink != nullptr) site.sink->repeat(before.time, state.time, units);
        added_.skip(site.run, unit, units * unit.unit, added, before.segments != state.segments, false);
      }
      state = end_of(site, pass);
    } else if (const std::int64_t added = drifting_.add(site, unit, before, state, added_)) {
      state = end_of(site, pass);
      state.pass += added;
    }
  }
  ends_.insert_or_assign(pass.loop, std::move(state));
}

}  // namespace rampart
