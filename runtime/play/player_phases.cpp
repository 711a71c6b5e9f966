#include <algorithm>
#include <cmath>
#include <limits>

#include "runtime/play/phase_loop.h"
#include "runtime/play/player.h"

// Passes that are no whole multiple of the grid: see phase_book.h. They are played on trial until it is known which
// there are. Then the run itself goes through each of them once, where it comes first, so that peaks, margins and trips
// have their own instants, and what lies between is added.
namespace rampart {
namespace {

// Fewer are gone through, and where so many come round, all of them are.
constexpr std::int64_t kFewestPasses = 32;
constexpr std::int64_t kFewestUnits = 8;
// Passes on trial: no more than a share of those there are.
constexpr std::int64_t kShareTried = 2;
constexpr std::int64_t kMostTried = 4096;

const Instant kLongAgo{Nanoseconds{std::numeric_limits<std::int64_t>::min() / 4}, 0};

// Of two ends of passes, whose ages are among the numbers.
bool same_end(const PhaseState& a, const PhaseState& b) {
  return a.old == b.old && same_state(a.state, b.state);
}

}  // namespace

// A trial that goes on from another, and judges rules too.
Player::Player(const Player& other, LoopId trial_of, const Instant& by) : Player(other, trial_of) {
  rules_ = other.rules_.clone();
  lines_.continue_as(other.lines_);
  now_ = now_.plus(by);
  for (const auto& rail : rails_) {
    rail->shift(by, kLongAgo);
    rail->put_off_contact(by);
  }
  rules_.shift(by, kLongAgo);
}

class Player::PhaseTrials final : public PhasePasses {
 public:
  PhaseTrials(const Player& player, const PassEnded& pass, PhaseLoop& loop, Nanoseconds grid)
      : player_(player), pass_(pass), loop_(loop), grid_(grid) {}

  PhaseArc alike(std::int64_t pass) override {
    RowCursor cursor = cursor_at(pass);
    const PhaseRoom room = cursor.go_through_pass();
    const std::int64_t phase = loop_.orbit.phase(pass);
    const std::int64_t back = std::min(phase, room.back.count());
    const std::int64_t ahead = std::min(grid_.count() - 1 - phase, room.ahead.count());
    return {phase - std::max(back, std::int64_t{0}), phase + std::max(ahead, std::int64_t{0})};
  }

  std::optional<std::size_t> play(std::size_t state, std::int64_t pass) override {
    const PhaseState& from = loop_.states[state];
    const Nanoseconds begin = pass_.time + pass_.length * pass;
    const Instant origin = player_.base_.plus(begin - begin % grid_);
    const Instant by{origin.whole - from.origin.whole, origin.rest - from.origin.rest};
    Player trial(*from.at, pass_.loop, by);
    trial.cursor_ = cursor_at(pass);
    const Instant began = trial.now_;
    const std::optional<PassEnded> end = trial.play_passes(1);
    PhaseSums& sums = loop_.played.emplace_back();
    if (!end) return std::nullopt;
    for (const auto& rail : trial.rails_) {
      sums.sums.push_back(rail->sums());
      sums.marks.push_back(rail->marks());
    }
    return known(trial.end_of(*end, began, grid_), trial);
  }

  std::size_t add(PhaseState end, const Player& player) {
    end.at.reset(new Player(player, pass_.loop, Instant{}));
    loop_.states.push_back(std::move(end));
    return loop_.states.size() - 1;
  }

 private:
  [[nodiscard]] RowCursor cursor_at(std::int64_t pass) const {
    RowCursor cursor = player_.cursor_;
    cursor.go_to_pass(pass);
    return cursor;
  }

  std::size_t known(PhaseState end, const Player& player) {
    std::vector<std::size_t>& alike = loop_.by_table[end.state.table];
    const auto found =
        std::find_if(alike.begin(), alike.end(), [&](std::size_t one) { return same_end(loop_.states[one], end); });
    if (found != alike.end()) return *found;
    alike.push_back(add(std::move(end), player));
    return alike.back();
  }

  const Player& player_;
  const PassEnded& pass_;
  PhaseLoop& loop_;
  Nanoseconds grid_;
};

PhaseState Player::end_of(const PassEnded& pass, const Instant& began, Nanoseconds grid) const {
  PhaseState end;
  end.state = state_of(rails_, rules_, now_);
  const Nanoseconds origin = pass.time - pass.time % grid;
  end.origin = base_.plus(origin);
  end.pass_began = began;
  end.pass = pass.pass;
  end.state.to_pass_end = end.origin.whole - now_.whole;
  end.state.segments = segments_;
  end.state.table = cursor_.state_on_grid(origin);
  for (std::size_t i = 0; i < rails_.size(); ++i) {
    RailRun::State& rail = end.state.rails[i];
    rail.limited_for = 0;
    rail.contact = {};
    rails_[i]->add_course(now_, rail.numbers);
    rail.scales.resize(rail.numbers.size());
    for (const double age : rails_[i]->ages(now_, began)) {
      rail.numbers.push_back(age);
      rail.scales.push_back(1);
      end.old += age < 0 ? 'o' : '-';
    }
    end.old += '/';
  }
  return end;
}

bool Player::can_go_by_phases(const PassEnded& pass) const {
  if (trial_ || period_ || (recorder_ != nullptr && !recorder_->is_full())) return false;
  if (pass.unit <= kFewestUnits) return false;
  return std::all_of(rails_.begin(), rails_.end(), [](const auto& rail) { return rail->can_be_tried(); });
}

bool Player::may_go_by_phases(const PassEnded& pass) const {
  const auto loop = phase_loops_.find(pass.loop);
  return can_go_by_phases(pass) && (loop == phase_loops_.end() || !loop->second->failed);
}

bool Player::go_by_phases(const PassEnded& pass) {
  const std::optional<Nanoseconds> grid = cursor_.common_grid();
  if (!grid || !can_go_by_phases(pass)) return false;
  std::shared_ptr<PhaseLoop>& kept = phase_loops_[pass.loop];
  if (kept == nullptr) kept = std::make_shared<PhaseLoop>();
  PhaseLoop& loop = *kept;
  const PhaseState end = end_of(pass, loop.last_end, *grid);
  Passes outer = passes_;
  outer.pop_back();
  const bool follows = loop.last_pass == pass.pass - 1 && loop.outer == outer && loop.setpoints == cursor_.setpoints();
  loop.last_pass = pass.pass;
  loop.outer = std::move(outer);
  loop.last_end = now_;
  loop.setpoints = cursor_.setpoints();
  if (!follows || loop.failed) return false;
  if (loop.misses >= loop.most_misses) {
    loop.most_misses *= 4;
    loop.map.reset();
    loop.seed = PhaseTrials(*this, pass, loop, *grid).add(end, *this);
  }
  if (!loop.map || loop.of != loop.outer || pass.pass >= loop.first + loop.map->passes) {
    if (!find_phases(pass, loop, end, *grid)) return false;
  }
  return add_phases(pass, loop, end);
}

bool Player::find_phases(const PassEnded& pass, PhaseLoop& loop, const PhaseState& end, Nanoseconds grid) {
  loop.map.reset();
  loop.to_walk.reset();
  std::int64_t passes = pass.remaining;
  if (const std::optional<Instant> next = next_incident()) {
    const double whole = std::floor(next->since(now_) / (1e-9 * static_cast<double>(pass.length.count()))) - 2;
    passes = std::min(passes, static_cast<std::int64_t>(std::clamp(whole, 0.0, 1e18)));
  }
  if (passes < kFewestPasses) return false;
  loop.of = loop.outer;
  loop.first = pass.pass;
  loop.orbit = {(pass.time % grid).count(), (pass.length % grid).count(), grid.count()};
  PhaseTrials trials(*this, pass, loop, grid);
  if (loop.states.empty()) loop.seed = trials.add(end, *this);
  loop.misses = 0;
  const auto most = static_cast<std::size_t>(std::min(passes / kShareTried, kMostTried));
  loop.map = loop.book.find(loop.orbit, passes, loop.seed, most, trials);
  if (loop.map) {
    const std::string& old = loop.states[loop.map->cells.front().state].old;
    const bool alike = std::all_of(loop.map->cells.begin(), loop.map->cells.end(),
                                   [&](const PhaseCell& cell) { return loop.states[cell.state].old == old; });
    if (!alike) loop.map.reset();
  }
  loop.failed = !loop.map;
  return loop.map.has_value();
}

bool Player::add_phases(const PassEnded& pass, PhaseLoop& loop, const PhaseState& end) {
  const std::int64_t at = pass.pass - loop.first;
  const PhaseCell* cell = loop.map->cell_of(loop.orbit.phase(at));
  if (cell == nullptr || !same_end(loop.states[cell->state], end)) {
    loop.to_walk.reset();
    ++loop.misses;
    return false;
  }
  if (!loop.to_walk) plan_walk(loop, at);
  const std::int64_t last = loop.map->passes - 1;
  const auto next = loop.to_walk->lower_bound(at);
  const std::int64_t to = next == loop.to_walk->end() ? last : next->first;
  if (to <= at) {
    loop.played[cell->played].walked = true;
    return false;
  }
  return jump(pass, loop, at, to);
}

void Player::plan_walk(PhaseLoop& loop, std::int64_t at) {
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

bool Player::jump(const PassEnded& pass, PhaseLoop& loop, std::int64_t from, std::int64_t to) {
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
  for (const auto& [played, count] : counts) {
    const PhaseSums& added = loop.played[played];
    for (std::size_t i = 0; i < rails_.size(); ++i) {
      rails_[i]->sums().add(added.sums[i], static_cast<double>(count));
      rails_[i]->add_marks(added.marks[i], count);
    }
  }
  const PhaseState& state = loop.states[cell->state];
  const Nanoseconds begin = pass.time + pass.length * (to - from);
  const Instant origin = base_.plus(begin - begin % Nanoseconds{loop.orbit.modulus});
  const Instant by{origin.whole - state.origin.whole, origin.rest - state.origin.rest};
  const PassShift later{passes_.size() - 1, pass.pass + (to - from) - state.pass};
  for (std::size_t i = 0; i < rails_.size(); ++i) {
    rails_[i]->continue_as(*state.at->rails_[i], by, state.pass_began, later);
  }
  rules_.continue_as(state.at->rules_, by, state.pass_began);
  lines_.continue_as(state.at->lines_);
  const Instant now = state.at->now_.plus(by);
  note_added(pass, to - from, {now.whole - now_.whole, now.rest - now_.rest}, false);
  cursor_.go_to_pass(to - from);
  passes_ = passes();
  pass_states_.clear();
  loop.last_pass = pass.pass + (to - from);
  loop.last_end = now_;
  loop.played[cell->played].walked = true;
  return true;
}

}  // namespace rampart
