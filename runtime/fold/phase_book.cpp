#include "runtime/fold/phase_book.h"

#include <algorithm>

namespace rampart {
namespace {

// What a pass leaves behind is gone after this many passes, or it is taken to stay.
constexpr int kMostRounds = 64;
constexpr std::size_t kMostCells = 50'000;

// Passes that begin in an arc begin with this state.
struct Held {
  PhaseArc arc;
  std::size_t state = 0;
};

void tidy(std::vector<Held>& held) {
  std::sort(held.begin(), held.end(), [](const Held& a, const Held& b) { return a.arc.low < b.arc.low; });
  std::vector<Held> joined;
  for (const Held& one : held) {
    if (!joined.empty() && joined.back().state == one.state && joined.back().arc.high + 1 == one.arc.low) {
      joined.back().arc.high = one.arc.high;
    } else {
      joined.push_back(one);
    }
  }
  held = std::move(joined);
}

// Whether two lists give one state wherever both give any.
bool agree(const std::vector<Held>& a, const std::vector<Held>& b) {
  auto one = a.begin();
  auto other = b.begin();
  while (one != a.end() && other != b.end()) {
    const bool meet = one->arc.low <= other->arc.high && other->arc.low <= one->arc.high;
    if (meet && one->state != other->state) return false;
    (one->arc.high < other->arc.high ? one : other)++;
  }
  return true;
}

}  // namespace

struct PhaseBook::Search {
  PhaseBook& book;
  const PhaseOrbit& orbit;
  std::int64_t passes;
  std::size_t most;
  PhasePasses& plays;
  std::vector<PhaseCell> cells;
  std::vector<Held> next;

  PhaseArc arc_at(std::int64_t phase, std::int64_t pass) {
    std::vector<PhaseArc>& arcs = book.arcs_;
    const auto after = std::upper_bound(arcs.begin(), arcs.end(), phase,
                                        [](std::int64_t at, const PhaseArc& arc) { return at < arc.low; });
    if (after != arcs.begin() && (after - 1)->holds(phase)) return *(after - 1);
    PhaseArc arc = plays.alike(pass);
    arc.low = std::max(arc.low, after == arcs.begin() ? 0 : (after - 1)->high + 1);
    arc.high = std::min(arc.high, after == arcs.end() ? orbit.modulus - 1 : after->low - 1);
    // An arc ends where passes begin to end beyond a turn of the grid, so that it stays in one piece when moved on.
    const std::int64_t turn = orbit.modulus - orbit.step;
    if (phase < turn) {
      arc.high = std::min(arc.high, turn - 1);
    } else {
      arc.low = std::max(arc.low, turn);
    }
    arcs.insert(after, arc);
    return arc;
  }

  // Cuts the phases of one state into arcs and plays each. False where that takes more passes than may be played.
  bool split(const Held& held) {
    std::vector<PhaseArc> open = {held.arc};
    while (!open.empty()) {
      const PhaseArc part = open.back();
      open.pop_back();
      if (part.low > part.high) continue;
      const std::optional<std::int64_t> pass = orbit.first_in(part);
      if (!pass || *pass >= passes) continue;
      if (cells.size() == kMostCells || !plays.goes_on()) return false;
      const PhaseArc whole = arc_at(orbit.phase(*pass), *pass);
      const PhaseArc arc{std::max(part.low, whole.low), std::min(part.high, whole.high)};
      if (!take({arc, held.state, 0}, whole, *pass)) return false;
      open.push_back({part.low, arc.low - 1});
      open.push_back({arc.high + 1, part.high});
    }
    return true;
  }

  bool take(PhaseCell cell, const PhaseArc& whole, std::int64_t pass) {
    const std::pair key(cell.state, whole.low);
    auto known = book.played_.find(key);
    if (known == book.played_.end()) {
      if (most == 0) return false;
      --most;
      const std::optional<std::size_t> state = plays.play(cell.state, pass);
      if (!plays.goes_on()) return false;
      known = book.played_.emplace(key, Played{state, book.played_.size()}).first;
    }
    cell.played = known->second.number;
    cells.push_back(cell);
    if (!known->second.state) {
      passes = std::min(passes, pass + 1);
      return true;
    }
    const auto moved = [this](std::int64_t phase) {
      return phase >= orbit.modulus - orbit.step ? phase - (orbit.modulus - orbit.step) : phase + orbit.step;
    };
    next.push_back({{moved(cell.arc.low), moved(cell.arc.high)}, *known->second.state});
    return true;
  }
};

std::optional<PhaseMap> PhaseBook::find(const PhaseOrbit& orbit, std::int64_t passes, std::size_t seed,
                                        std::size_t most, PhasePasses& plays) {
  std::vector<Held> held = {{{0, orbit.modulus - 1}, seed}};
  Search search{*this, orbit, passes, most, plays, {}, {}};
  for (int round = 0; round < kMostRounds; ++round) {
    search.cells.clear();
    search.next.clear();
    for (const Held& one : held) {
      if (!search.split(one)) return std::nullopt;
    }
    tidy(search.next);
    if (agree(held, search.next)) {
      std::sort(search.cells.begin(), search.cells.end(),
                [](const PhaseCell& a, const PhaseCell& b) { return a.arc.low < b.arc.low; });
      return PhaseMap{std::move(search.cells), search.passes};
    }
    held = search.next;
  }
  return std::nullopt;
}

const PhaseCell* PhaseMap::cell_of(std::int64_t phase) const {
  const auto after = std::upper_bound(cells.begin(), cells.end(), phase,
                                      [](std::int64_t at, const PhaseCell& cell) { return at < cell.arc.low; });
  return after != cells.begin() && (after - 1)->arc.holds(phase) ? &*(after - 1) : nullptr;
}

}  // namespace rampart
