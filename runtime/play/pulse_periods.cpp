#include "runtime/play/pulse_periods.h"

#include <algorithm>

#include "runtime/play/load_clock.h"

namespace rampart {
namespace {

// Time without rows that is worth looking for alike periods of the loads' pulses.
constexpr double kFewestPeriods = 3;

std::int64_t clocks(const Rails& rails) {
  return std::count_if(rails.begin(), rails.end(), [](const auto& rail) { return rail->has_clock(); });
}

}  // namespace

bool PulsePeriods::have_changed(const Rails& rails) const {
  return period_ && clocks(rails) != clocks_;
}

void PulsePeriods::read(const Rails& rails) {
  period_ = common_period(rails);
  clocks_ = clocks(rails);
}

void PulsePeriods::begin_way() {
  check_.reset();
  start_.reset();
}

void PulsePeriods::follow(const FoldSite& site, const Instant& target) {
  Rig& rig = site.run.rig;
  const Rails& rails = rig.rails();
  const Instant now = site.run.place.now;
  const auto runs = [](const auto& rail) { return rail->clock_runs(); };
  if (!period_ || std::none_of(rails.begin(), rails.end(), runs)) {
    check_.reset();
    return;
  }
  if (check_ && !is_due(now)) return;
  const bool was_due = check_.has_value();
  check_.reset();
  const auto rests = [&](const auto& rail) { return rail->rests(now); };
  const double periods = target.since(now) / (1e-9 * static_cast<double>(period_->count()));
  if (periods < kFewestPeriods || !std::all_of(rails.begin(), rails.end(), rests)) return;
  if (!was_due) {
    // Away from the edges of pulses, which may well come with the rows.
    check_ = now.plus(Nanoseconds{period_->count() / 8 * 3 + 1});
    return;
  }
  for (const auto& rail : rails) rail->settle_pending(now);
  if (site.sink != nullptr) site.sink->split();
  const PassState state = state_of(rig, now);
  if (start_ && same_state(start_->state, state)) add(site, target, state);
  start_ = Start{state_of(rig, site.run.place.now), rig.events().count()};
  check_ = site.run.place.now.plus(*period_);
}

void PulsePeriods::add(const FoldSite& site, const Instant& target, const PassState& state) const {
  Instant& now = site.run.place.now;
  EventLog& events = site.run.rig.events();
  const double length = 1e-9 * static_cast<double>(period_->count());
  const auto most = static_cast<std::int64_t>(target.since(now) / length) - 1;
  if (most <= 0) return;
  const std::int64_t times = site.times_to_add(most, start_->state, state);
  if (times == 0) return;
  if (site.sink != nullptr) site.sink->repeat(start_->state.time, now, times);
  events.leave_out(times * (events.count() - start_->events));
  now = now.plus(repeat(site.run.rig, start_->state, state, times));
}

}  // namespace rampart
