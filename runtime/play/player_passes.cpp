#include "runtime/play/player.h"

#include <algorithm>
#include <cmath>

#include "runtime/play/load_clock.h"

namespace rampart {

void Player::take(const PassEnded& pass) {
  // Where passes put their rows on the grid in different ways, the last row of each is the common end.
  if (pass.unit == 1 && is_on_grid(pass.time) && !go_to(pass.time)) return;
  apply_rows();
  passes_ = passes();
  if (trial_ && trial_->loop == pass.loop) return;
  if (FoldedLoop* loop = record_of(pass)) ++loop->simulated;
  if (recorder_ != nullptr) recorder_->split();
  if (go_by_phases(pass) || leave_unlike_passes(pass)) return;
  PassState state = state_at(pass);
  const auto known = pass_states_.find(pass.loop);
  if (known == pass_states_.end() || known->second.outer != state.outer || known->second.pass >= pass.pass) {
    pass_states_.insert_or_assign(pass.loop, std::move(state));
    return;
  }
  const std::int64_t walked = pass.pass - known->second.pass;
  if (walked == pass.unit) {
    known->second.units =
        phase_units(period_, Instant{now_.whole - known->second.time.whole, now_.rest - known->second.time.rest});
  }
  PassEnded unit = pass;
  unit.unit *= known->second.units;
  if (walked < unit.unit) return;
  if (walked == unit.unit && pass.remaining >= unit.unit) {
    if (same_state(known->second, state)) {
      fold(unit, known->second, state);
      state = state_at(pass);
    } else if (const std::int64_t added = add_drifting(unit, known->second, state)) {
      state = state_at(pass);
      state.pass += added;
    }
  }
  pass_states_.insert_or_assign(pass.loop, std::move(state));
}

bool Player::leave_unlike_passes(const PassEnded& pass) {
  const auto [before, is_first] = work_at_pass_.try_emplace(pass.loop, work_);
  const std::int64_t cost = work_ - before->second;
  before->second = work_;
  const std::int64_t unlike = std::min(pass.remaining, pass.unit - 1);
  if (is_first || pass.pass == 1 || unlike <= 0 || cost <= (kMostSteps - work_) / unlike) return false;
  if (trial_ || recorder_ != nullptr || may_go_by_phases(pass)) return false;
  cut_short(pass.statement, pass.pass + pass.remaining);
  return true;
}

bool Player::is_on_grid(Nanoseconds time) const {
  for (const RailSetup& setup : table_->rails()) {
    const Nanoseconds grid = table_->bench().supply_of(setup.members.front()).timing.resolution;
    if (grid.count() > 0 && time % grid != Nanoseconds{0}) return false;
  }
  return true;
}

PassState Player::state_at(const PassEnded& pass) const {
  PassState state = state_of(rails_, rules_, now_);
  state.pass = pass.pass;
  state.outer = passes_;
  if (!state.outer.empty()) state.outer.pop_back();
  state.to_pass_end = base_.whole + pass.time - now_.whole;
  state.segments = segments_;
  state.drifts = drifts_;
  state.table = cursor_.state();
  return state;
}

std::int64_t Player::times_to_add(std::int64_t most, const PassState& before, const PassState& after) const {
  const double length = after.time.since(before.time);
  std::int64_t times = most;
  for (std::size_t i = 0; i < rails_.size(); ++i) {
    times = std::min(times, rails_[i]->safe_repeats(before.rails[i], length, most));
    times = passes_before_closing(before.rails[i].contact, after.rails[i].contact, times);
  }
  const std::optional<Instant> next = next_incident();
  if (!next || length <= 0) return times;
  const double whole = std::floor(next->since(now_) / length) - 1;
  return std::clamp(static_cast<std::int64_t>(std::min(whole, 1e18)), std::int64_t{0}, times);
}

void Player::fold(const PassEnded& pass, const PassState& before, const PassState& after) {
  const std::int64_t units = times_to_add(pass.remaining / pass.unit, before, after);
  if (units == 0) return;
  const Instant added = repeat(rails_, rules_, before, after, units);
  if (recorder_ != nullptr) recorder_->repeat(before.time, after.time, units);
  skip(pass, units * pass.unit, added, before.segments != after.segments, false);
}

FoldedLoop& Player::skip(const PassEnded& pass, std::int64_t count, const Instant& added, bool new_segments,
                         bool drifting) {
  cursor_.skip_passes(count);
  // Within one segment the table's own clock has moved; a pass of several segments starts each at 0.
  if (new_segments) base_ = base_.plus(added);
  return note_added(pass, count, added, drifting);
}

FoldedLoop& Player::note_added(const PassEnded& pass, std::int64_t count, const Instant& added, bool drifting) {
  Event event;
  event.time_s = now_.seconds();
  event.kind = EventKind::Passes;
  event.statement = pass.statement;
  event.passes = passes_;
  event.count = count;
  event.drifting = drifting;
  now_ = now_.plus(added);
  event.to_s = now_.seconds();
  events_.add(std::move(event));
  FoldedLoop* loop = record_of(pass);
  if (loop == nullptr) loop = &folded_.emplace_back(FoldedLoop{pass.statement, pass.pass, 0});
  loop->added += count;
  if (drifting) loop->drifting += count;
  return *loop;
}

FoldedLoop* Player::record_of(const PassEnded& pass) {
  const auto found = std::find_if(folded_.begin(), folded_.end(),
                                  [&](const FoldedLoop& loop) { return loop.statement == pass.statement; });
  return found == folded_.end() ? nullptr : &*found;
}

}  // namespace rampart
