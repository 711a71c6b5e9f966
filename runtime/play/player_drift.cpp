#include <algorithm>

#include "runtime/fold/drift.h"
#include "runtime/play/player.h"
#include "runtime/play/simulate.h"

namespace rampart {
namespace {

// The last passes are gone through: peaks and margins that grow are attained there.
constexpr std::int64_t kPassesAtEnd = 2;

const Progress kNoProgress;

}  // namespace

// Incidents, rules and a recorder do not change what the rails do up to then.
Player::Player(const Player& other, LoopId trial_of)
    : table_(other.table_),
      safe_(other.safe_),
      cursor_(other.cursor_),
      rules_(other.rules_.without_rules()),
      rows_came_(other.rows_came_),
      base_(other.base_),
      now_(other.now_),
      passes_(other.passes_),
      segments_(other.segments_),
      supply_powers_(other.supply_powers_),
      lines_(other.table_->profile(), events_),
      recorder_(nullptr),
      progress_(&kNoProgress),
      safe_playing_(other.safe_playing_),
      trial_(Trial{trial_of, {}}) {
  for (const auto& rail : other.rails_) rails_.push_back(rail->trial(events_));
}

std::optional<TrialPass> Player::try_pass(const PassEnded& unit, const PassState& after, const Apart& apart,
                                          const std::vector<double>& state) const {
  Player trial(*this, unit.loop);
  trial.rails_[apart.rail]->drift_to(state);
  const std::optional<PassEnded> end = trial.play_passes(unit.unit);
  if (!end) return std::nullopt;
  PassState ended = trial.state_at(*end);
  // Rules are none of a trial's.
  ended.rules = after.rules;
  if (!same_state(after, ended, apart)) return std::nullopt;
  const RailRun& rail = *trial.rails_[apart.rail];
  std::vector<double> peaks = rail.peaks();
  peaks.push_back(trial.total_power_.value);
  return TrialPass{rail.circuit().gains(), rail.sums(), std::move(trial.trial_->trace), std::move(peaks)};
}

std::optional<PassEnded> Player::play_passes(std::int64_t passes) {
  while (std::optional<TableItem> item = cursor_.next()) {
    take(*item);
    if (trips_ != 0 || stopped_) return std::nullopt;
    const auto* ended = std::get_if<PassEnded>(&*item);
    if (ended != nullptr && ended->loop == trial_->loop && --passes == 0) return *ended;
  }
  return std::nullopt;
}

void Player::trace_step(double length) {
  trial_->trace.lengths.push_back(length);
  for (const auto& rail : rails_) trial_->trace.ways += rail->way();
}

std::optional<Apart> Player::drifting(const PassState& before, const PassState& after) const {
  // Where a course is recorded, it is to be the true one.
  if (trial_ || (recorder_ != nullptr && !recorder_->is_full())) return std::nullopt;
  std::optional<Apart> apart;
  for (std::size_t i = 0; i < rails_.size(); ++i) {
    if (!rails_[i]->can_be_tried()) return std::nullopt;
    if (same_state(before.rails[i], after.rails[i], after.time.since(before.time))) continue;
    if (apart) return std::nullopt;
    apart = Apart{i, rails_[i]->affine_numbers()};
  }
  if (!apart || apart->numbers == 0 || !rules_.look_at_instants(rails_[apart->rail]->id())) return std::nullopt;
  if (before.drifts != after.drifts || !same_state(before, after, apart)) return std::nullopt;
  return apart;
}

std::int64_t Player::add_drifting(const PassEnded& unit, const PassState& before, const PassState& after) {
  DriftWatch& watch = drift_watches_[unit.loop];
  const std::optional<Apart> apart = drifting(before, after);
  if (!apart) {
    watch.forget();
    return 0;
  }
  const RailRun::State& last = before.rails[apart->rail];
  const RailRun::State& now = after.rails[apart->rail];
  std::vector<double> start(now.numbers.begin(), now.numbers.begin() + static_cast<std::ptrdiff_t>(apart->numbers));
  std::vector<double> change;
  for (std::size_t i = 0; i < start.size(); ++i) change.push_back((start[i] - last.numbers[i]) / now.scales[i]);
  if (!watch.is_due(std::move(change))) return 0;
  const std::int64_t left = unit.remaining / unit.unit - kPassesAtEnd;
  if (left <= 0) return 0;
  const std::int64_t most = times_to_add(left, before, after);
  const auto drift = find_drift(start, now.scales, most,
                                [&](const std::vector<double>& state) { return try_pass(unit, after, *apart, state); });
  if (!drift) {
    watch.not_found();
    return 0;
  }
  watch.found();
  const Instant added = repeat(rails_, rules_, before, after, drift->passes, apart->rail);
  rails_[apart->rail]->drift_to(drift->end);
  rails_[apart->rail]->sums().add(drift->sums, 1);
  ++drifts_;
  const std::int64_t count = drift->passes * unit.unit;
  FoldedLoop& loop = skip(unit, count, added, before.segments != after.segments, true);
  // What the state is off by shows in a voltage or current once, in an energy twice.
  loop.error += 2 * drift->error;
  return count;
}

}  // namespace rampart
