#include "runtime/play/phased_passes.h"

#include <algorithm>
#include <cmath>

#include "runtime/play/player.h"

namespace rampart {
namespace {

// Fewer are gone through, and where so many come round, all of them are.
constexpr std::int64_t kFewestPasses = 32;
constexpr std::int64_t kFewestUnits = 8;
// Passes on trial: no more than a share of those there are.
constexpr std::int64_t kShareTried = 2;
constexpr std::int64_t kMostTried = 4096;

Instant difference(const Instant& a, const Instant& b) {
  return {a.whole - b.whole, a.rest - b.rest};
}

}  // namespace

class PhasedPasses::Trials final : public PhasePasses {
 public:
  Trials(const FoldSite& site, const PassEnded& pass, Loop& loop, Nanoseconds grid)
      : run_(site.run),
        run_budget_(site.budget),
        budget_(site.budget.for_trials()),
        pass_(pass),
        loop_(loop),
        grid_(grid) {}

  bool goes_on() override {
    run_budget_.take_rows(1);
    return !run_budget_.is_spent() && !budget_.is_spent();
  }

  PhaseArc alike(std::int64_t pass) override {
    RowCursor cursor = cursor_at(pass);
    const std::int64_t given = cursor.given();
    const PhaseRoom room = cursor.go_through_pass();
    budget_.take_rows(cursor.given() - given);
    const std::int64_t phase = loop_.orbit.phase(pass);
    const std::int64_t back = std::min(phase, room.back.count());
    const std::int64_t ahead = std::min(grid_.count() - 1 - phase, room.ahead.count());
    return {phase - std::max(back, std::int64_t{0}), phase + std::max(ahead, std::int64_t{0})};
  }

  std::optional<std::size_t> play(std::size_t state, std::int64_t pass) override {
    const End& from = loop_.ends[state];
    const Nanoseconds begin = pass_.time + pass_.length * pass;
    const Instant origin = run_.place.base.plus(begin - begin % grid_);
    Run later = from.at->trial(true);
    later.move_on(difference(origin, from.origin));
    later.rig.forget_past();
    later.place.cursor = cursor_at(pass);
    const Instant began = later.place.now;
    Player trial(std::move(later), pass_.loop, budget_);
    const std::optional<PassEnded> end = trial.play_passes(1);
    budget_ = trial.budget();
    Played& played = loop_.played.emplace_back();
    if (!end) return std::nullopt;
    for (const auto& rail : trial.run().rig.rails()) {
      played.sums.push_back(rail->sums());
      played.marks.push_back(rail->marks());
    }
    played.readings = trial.run().rig.readings();
    return known(end_of(trial.run(), *end, began, grid_), trial.run());
  }

  [[nodiscard]] const WorkBudget& budget() const { return budget_; }

  std::size_t add(End end, const Run& run) {
    end.at = std::make_shared<const Run>(run.trial(true));
    loop_.ends.push_back(std::move(end));
    return loop_.ends.size() - 1;
  }

 private:
  [[nodiscard]] RowCursor cursor_at(std::int64_t pass) {
    RowCursor cursor = run_.place.cursor;
    const std::int64_t given = cursor.given();
    cursor.go_to_pass(pass);
    budget_.take_rows(cursor.given() - given);
    return cursor;
  }

  std::size_t known(End end, const Run& run) {
    std::vector<std::size_t>& alike = loop_.by_table[end.state.table];
    const auto found =
        std::find_if(alike.begin(), alike.end(), [&](std::size_t one) { return same_end(loop_.ends[one], end); });
    if (found != alike.end()) return *found;
    alike.push_back(add(std::move(end), run));
    return alike.back();
  }

  const Run& run_;
  WorkBudget& run_budget_;
  WorkBudget budget_;
  const PassEnded& pass_;
  Loop& loop_;
  Nanoseconds grid_;
};

// Ages are among the numbers.
bool PhasedPasses::same_end(const End& a, const End& b) {
  return a.began_before == b.began_before && same_state(a.state, b.state);
}

PhasedPasses::End PhasedPasses::end_of(const Run& run, const PassEnded& pass, const Instant& began, Nanoseconds grid) {
  const TablePlace& place = run.place;
  const Rails& rails = run.rig.rails();
  End end;
  end.state = state_of(run.rig, place.now);
  const Nanoseconds origin = pass.time - pass.time % grid;
  end.origin = place.base.plus(origin);
  end.pass_began = began;
  end.pass = pass.pass;
  end.state.to_pass_end = end.origin.whole - place.now.whole;
  end.state.segments = place.segments;
  end.state.table = place.cursor.state_on_grid(origin);
  for (std::size_t i = 0; i < rails.size(); ++i) {
    RailRun::State& rail = end.state.rails[i];
    rail.limited_for = 0;
    rail.contact = {};
    rails[i]->add_course(place.now, rail.numbers);
    rail.scales.resize(rail.numbers.size());
    std::vector<bool>& began_before = end.began_before.emplace_back();
    for (const double age : rails[i]->ages(place.now, began)) {
      rail.numbers.push_back(age);
      rail.scales.push_back(1);
      began_before.push_back(age < 0);
    }
  }
  return end;
}

bool PhasedPasses::can_add(const FoldSite& site, const PassEnded& pass) {
  if (site.in_trial || site.pulses || site.records()) return false;
  if (pass.unit <= kFewestUnits) return false;
  const Rails& rails = site.run.rig.rails();
  return std::all_of(rails.begin(), rails.end(), [](const auto& rail) { return rail->can_be_tried(); });
}

bool PhasedPasses::may_add(const FoldSite& site, const PassEnded& pass) const {
  const auto loop = loops_.find(pass.loop);
  return can_add(site, pass) && (loop == loops_.end() || !loop->second->failed);
}

bool PhasedPasses::add(const FoldSite& site, const PassEnded& pass, AddedPasses& added) {
  Run& run = site.run;
  const std::optional<Nanoseconds> grid = run.place.cursor.common_grid();
  if (!grid || !can_add(site, pass)) return false;
  std::shared_ptr<Loop>& kept = loops_[pass.loop];
  if (kept == nullptr) kept = std::make_shared<Loop>();
  Loop& loop = *kept;
  const End end = end_of(run, pass, loop.last_end, *grid);
  Passes outer = run.place.passes;
  outer.pop_back();
  const std::vector<RailState>& setpoints = run.place.cursor.setpoints();
  const bool follows = loop.last_pass == pass.pass - 1 && loop.outer == outer && loop.setpoints == setpoints;
  loop.last_pass = pass.pass;
  loop.outer = std::move(outer);
  loop.last_end = run.place.now;
  loop.setpoints = setpoints;
  if (!follows || loop.failed) return false;
  if (loop.misses >= loop.most_misses) {
    loop.most_misses *= 4;
    loop.map.reset();
    loop.seed = Trials(site, pass, loop, *grid).add(end, run);
  }
  if (!loop.map || loop.of != loop.outer || pass.pass >= loop.first + loop.map->passes) {
    if (!find_map(site, pass, loop, end, *grid)) return false;
  }
  return add_from_map(site, pass, loop, end, added);
}

bool PhasedPasses::find_map(const FoldSite& site, const PassEnded& pass, Loop& loop, const End& end, Nanoseconds grid) {
  loop.map.reset();
  loop.to_walk.reset();
  std::int64_t passes = pass.remaining;
  if (const std::optional<Instant> next = site.next_incident()) {
    const double length = 1e-9 * static_cast<double>(pass.length.count());
    const double whole = std::floor(next->since(site.run.place.now) / length) - 2;
    passes = std::min(passes, static_cast<std::int64_t>(std::clamp(whole, 0.0, 1e18)));
  }
  if (passes < kFewestPasses) return false;
  loop.of = loop.outer;
  loop.first = pass.pass;
  loop.orbit = {(pass.time % grid).count(), (pass.length % grid).count(), grid.count()};
  Trials trials(site, pass, loop, grid);
  if (loop.ends.empty()) loop.seed = trials.add(end, site.run);
  loop.misses = 0;
  const auto most = static_cast<std::size_t>(std::min(passes / kShareTried, kMostTried));
  loop.map = loop.book.find(loop.orbit, passes, loop.seed, most, trials);
  site.budget.add_trials(trials.budget());
  if (loop.map) {
    const auto& began_before = loop.ends[loop.map->cells.front().state].began_before;
    const bool alike = std::all_of(loop.map->cells.begin(), loop.map->cells.end(), [&](const PhaseCell& cell) {
      return loop.ends[cell.state].began_before == began_before;
    });
    if (!alike) loop.map.reset();
  }
  loop.failed = !loop.map;
  return loop.map.has_value();
}

bool PhasedPasses::add_from_map(const FoldSite& site, const PassEnded& pass, Loop& loop, const End& end,
                                AddedPasses& added) {
  const std::int64_t at = pass.pass - loop.first;
  const PhaseCell* cell = loop.map->cell_of(loop.orbit.phase(at));
  if (cell == nullptr || !same_end(loop.ends[cell->state], end)) {
    loop.to_walk.reset();
    ++loop.misses;
    return false;
  }
  site.budget.take_rows(static_cast<std::int64_t>(loop.map->cells.size()));
  if (!loop.to_walk) plan_walk(loop, at);
  const std::int64_t last = loop.map->passes - 1;
  const auto next = loop.to_walk->lower_bound(at);
  const std::int64_t to = next == loop.to_walk->end() ? last : next->first;
  if (to <= at) {
    loop.played[cell->played].walked = true;
    return false;
  }
  return jump(site, pass, loop, at, to, added);
}

void PhasedPasses::plan_walk(Loop& loop, std::int64_t at) {
  loop.to_walk.emplace();
  const PhaseOrbit rest = loop.orbit.from(at);
  std::map<std::size_t, std::int64_t> first;
  for (const PhaseCell& cell : loop.map->cells) {
    if (loop.played[cell.played].walked) continue;
    const std::optional<std::int64_t> pass = rest.first_in(cell.arc);
    if (!pass || at + *pass >= loop.map->passes) continue;
    const auto [known, is_new] = first.emplace(cell.played, at + *pass);
    if (!is_new) known->second = std::min(known->second, at + *pass);
  }
  for (const auto& [played, pass] : first) loop.to_walk->emplace(pass, played);
}

bool PhasedPasses::jump(const FoldSite& site, const PassEnded& pass, Loop& loop, std::int64_t from, std::int64_t to,
                        AddedPasses& added) {
  const PhaseCell* cell = loop.map->cell_of(loop.orbit.phase(to));
  if (cell == nullptr) return false;
  const PhaseOrbit rest = loop.orbit.from(from);
  std::map<std::size_t, std::int64_t> counts;
  std::int64_t all = 0;
  for (const PhaseCell& one : loop.map->cells) {
    const std::int64_t count = rest.count_in(one.arc, to - from);
    if (count == 0) continue;
    if (loop.played[one.played].sums.empty()) return false;
    counts[one.played] += count;
    all += count;
  }
  if (all != to - from) return false;
  TablePlace& place = site.run.place;
  const Rails& rails = site.run.rig.rails();
  for (const auto& [number, count] : counts) {
    const Played& played = loop.played[number];
    for (std::size_t i = 0; i < rails.size(); ++i) {
      rails[i]->sums().add(played.sums[i], static_cast<double>(count));
      rails[i]->marks().add(played.marks[i], count);
    }
    site.run.rig.readings().add(played.readings, count);
  }
  const End& end = loop.ends[cell->state];
  const Nanoseconds begin = pass.time + pass.length * (to - from);
  const Instant origin = place.base.plus(begin - begin % Nanoseconds{loop.orbit.modulus});
  const Instant by = difference(origin, end.origin);
  const PassShift later{place.passes.size() - 1, pass.pass + (to - from) - end.pass};
  for (std::size_t i = 0; i < rails.size(); ++i) {
    rails[i]->continue_as(*end.at->rig.rails()[i], by, end.pass_began, later);
  }
  site.run.rig.rules().continue_as(end.at->rig.rules(), by, end.pass_began);
  site.run.rig.lines().continue_as(end.at->rig.lines());
  added.note(site.run, pass, to - from, difference(end.at->place.now.plus(by), place.now), false);
  place.cursor.go_to_pass(to - from);
  place.read_passes();
  loop.last_pass = pass.pass + (to - from);
  loop.last_end = place.now;
  loop.played[cell->played].walked = true;
  return true;
}

}  // namespace rampart
