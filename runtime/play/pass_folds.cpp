#include "runtime/play/pass_folds.h"

#include "runtime/play/load_clock.h"

namespace rampart {

void PassFolds::forget() {
  forget_ends();
  forget_phases();
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
  if (walked == unit.unit && pass.remaining >= unit.unit) {
    if (same_state(before, state)) {
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
