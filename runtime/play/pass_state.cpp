#include "runtime/play/pass_state.h"

#include <algorithm>
#include <cmath>

namespace rampart {

PassState state_of(const Rig& rig, const Instant& now) {
  PassState state;
  state.time = now;
  for (const auto& rail : rig.rails()) {
    state.rails.push_back(rail->state(now));
    state.sums.push_back(rail->sums());
    state.marks.push_back(rail->marks().reached());
  }
  state.rules = rig.rules().state(now);
  state.readings = rig.readings().counts();
  return state;
}

PassState state_at(const Run& run, const PassEnded& pass) {
  const TablePlace& place = run.place;
  PassState state = state_of(run.rig, place.now);
  state.pass = pass.pass;
  state.outer = place.passes;
  if (!state.outer.empty()) state.outer.pop_back();
  state.to_pass_end = place.base.whole + pass.time - place.now.whole;
  state.segments = place.segments;
  state.table = place.cursor.state();
  return state;
}

bool same_state(const RailRun::State& a, const RailRun::State& b, double between, std::size_t numbers_apart) {
  if (a.status != b.status || a.parts != b.parts || a.contact != b.contact) return false;
  if (a.numbers.size() != b.numbers.size()) return false;
  for (std::size_t i = numbers_apart; i < a.numbers.size(); ++i) {
    const double size = std::max({std::abs(a.numbers[i]), std::abs(b.numbers[i]), b.scales[i]});
    if (std::abs(a.numbers[i] - b.numbers[i]) > b.same * size) return false;
  }
  // A limit phase that spans the ends of passes has its full length once it is as old at each; one that fills whole
  // passes only grows.
  const double age = std::max(a.limited_for, b.limited_for);
  return b.limited_for >= between || std::abs(a.limited_for - b.limited_for) <= b.same * age + 1e-15;
}

bool same_state(const PassState& a, const PassState& b, const std::optional<Apart>& apart) {
  if (a.outer != b.outer || a.to_pass_end != b.to_pass_end || a.table != b.table || a.rules != b.rules) return false;
  const double between = b.time.since(a.time);
  for (std::size_t i = 0; i < a.rails.size(); ++i) {
    const std::size_t numbers = apart && apart->rail == i ? apart->numbers : 0;
    if (!same_state(a.rails[i], b.rails[i], between, numbers)) return false;
  }
  return true;
}

Instant repeat(Rig& rig, const PassState& before, const PassState& after, std::int64_t times,
               std::optional<std::size_t> drifting) {
  const Instant added{(after.time.whole - before.time.whole) * times,
                      (after.time.rest - before.time.rest) * static_cast<double>(times)};
  const Rails& rails = rig.rails();
  for (std::size_t i = 0; i < rails.size(); ++i) {
    if (i != drifting) rails[i]->sums().repeat_since(before.sums[i], static_cast<double>(times));
    rails[i]->marks().repeat_since(before.marks[i], times);
    if (i == drifting) {
      rails[i]->past().forget();
    } else {
      rails[i]->past().repeat(before.time, after.time, times, added);
    }
    rails[i]->repeat_heat(before.rails[i], after.time.since(before.time), times);
    rails[i]->shift(added, before.time);
    if (!after.rails[i].contact.waits_on(before.rails[i].contact)) rails[i]->put_off_contact(added);
  }
  rig.readings().repeat_since(before.readings, times, drifting.has_value());
  rig.rules().shift(added, before.time);
  return added;
}

std::optional<Instant> FoldSite::next_incident() const {
  const std::optional<Instant> link = run.rig.next_link();
  const std::optional<Instant> incident = incidents.next();
  return !incident || (link && link->since(*incident) < 0) ? link : incident;
}

std::int64_t FoldSite::times_to_add(std::int64_t most, const PassState& before, const PassState& after) const {
  if (before.waits != after.waits) return 0;
  const double length = after.time.since(before.time);
  const Rails& rails = run.rig.rails();
  std::int64_t times = most;
  for (std::size_t i = 0; i < rails.size(); ++i) {
    times = std::min(times, rails[i]->safe_repeats(before.rails[i], length, most));
    times = passes_before_closing(before.rails[i].contact, after.rails[i].contact, times);
  }
  const std::optional<Instant> next = next_incident();
  if (!next || length <= 0) return times;
  const double whole = std::floor(next->since(run.place.now) / length) - 1;
  return std::clamp(static_cast<std::int64_t>(std::min(whole, 1e18)), std::int64_t{0}, times);
}

}  // namespace rampart
