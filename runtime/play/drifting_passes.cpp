#include "runtime/play/drifting_passes.h"

#include "runtime/play/player.h"

namespace rampart {
namespace {

// The last passes are gone through: peaks and margins that grow are attained there.
constexpr std::int64_t kPassesAtEnd = 2;

}  // namespace

std::optional<TrialPass> DriftingPasses::try_pass(const FoldSite& site, const PassEnded& unit, const PassState& after,
                                                  const Apart& apart, const std::vector<double>& state) {
  Player trial(site.run.trial(false), unit.loop, site.budget.for_trials());
  trial.run().rig.rails()[apart.rail]->drift_to(state);
  const std::optional<PassEnded> end = trial.play_passes(unit.unit);
  site.budget.add_trials(trial.budget());
  if (!end) return std::nullopt;
  PassState ended = state_at(trial.run(), *end);
  // A trial judges no rules.
  ended.rules = after.rules;
  if (!same_state(after, ended, apart)) return std::nullopt;
  const RailRun& rail = *trial.run().rig.rails()[apart.rail];
  std::vector<double> peaks = rail.peaks();
  peaks.push_back(trial.run().rig.peak_power());
  return TrialPass{rail.circuit().gains(), rail.sums(), trial.trace(), std::move(peaks)};
}

std::optional<Apart> DriftingPasses::drifting(const FoldSite& site, const PassState& before, const PassState& after) {
  if (site.in_trial || site.records()) return std::nullopt;
  const Rails& rails = site.run.rig.rails();
  std::optional<Apart> apart;
  for (std::size_t i = 0; i < rails.size(); ++i) {
    if (!rails[i]->can_be_tried()) return std::nullopt;
    if (same_state(before.rails[i], after.rails[i], after.time.since(before.time))) continue;
    if (apart) return std::nullopt;
    apart = Apart{i, rails[i]->affine_numbers()};
  }
  if (!apart || apart->numbers == 0) return std::nullopt;
  if (!site.run.rig.rules().look_at_instants(rails[apart->rail]->id())) return std::nullopt;
  if (before.drifts != after.drifts || !same_state(before, after, apart)) return std::nullopt;
  return apart;
}

std::int64_t DriftingPasses::add(const FoldSite& site, const PassEnded& unit, const PassState& before,
                                 const PassState& after, AddedPasses& added) {
  DriftWatch& watch = watches_[unit.loop];
  const std::optional<Apart> apart = drifting(site, before, after);
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
  const std::int64_t most = site.times_to_add(left, before, after);
  const auto drift = find_drift(start, now.scales, most, [&](const std::vector<double>& state) {
    return try_pass(site, unit, after, *apart, state);
  });
  if (!drift) {
    watch.not_found();
    return 0;
  }
  watch.found();
  RailRun& rail = *site.run.rig.rails()[apart->rail];
  const Instant time = repeat(site.run.rig, before, after, drift->passes, apart->rail);
  rail.drift_to(drift->end);
  rail.sums().add(drift->sums, 1);
  ++count_;
  const std::int64_t count = drift->passes * unit.unit;
  FoldedLoop& loop = added.skip(site.run, unit, count, time, before.segments != after.segments, true);
  // What the state is off by shows in a voltage or current once, in an energy twice.
  loop.error += 2 * drift->error;
  return count;
}

}  // namespace rampart
