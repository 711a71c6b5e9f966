#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <utility>
#include <vector>

#include "runtime/fold/phase_orbit.h"

// Passes that begin at another phase of a grid each time, sorted by what they do.
//
// A pass makes its rows by rounding to the grid. Phases from which it makes the same rows form an arc, and a pass of J
// rows has at most J + 1 arcs. What a pass does depends on its arc and on the state that it begins with alone, so only
// pairs of arc and state have to be played, however many passes there are.
//
// The search begins with one state at all phases. Each round plays every pair of arc and state once and moves the arc
// on by a pass: that gives the states at the beginnings of the next passes, by phase. It ends when the next ones agree
// with those they came from. Then each pass, whatever its number, has its state and its arc by its phase; where a loop
// does not forget its past, the states never agree and the search gives up.
namespace rampart {

// What passes do. Passes are counted from the first of the orbit.
class PhasePasses {
 public:
  virtual ~PhasePasses() = default;
  // Asked for each arc of a state that is looked at. The search gives up where it does not.
  [[nodiscard]] virtual bool goes_on() = 0;
  // The arc of phases around that of this pass from which it makes the same rows, as far as it lies within one turn of
  // the grid.
  [[nodiscard]] virtual PhaseArc alike(std::int64_t pass) = 0;
  // Plays a pass from a state, and gives the state at its end: one of those known if it is the same. None where the
  // pass ends otherwise, as with a trip.
  [[nodiscard]] virtual std::optional<std::size_t> play(std::size_t state, std::int64_t pass) = 0;
};

// Passes that begin in one arc, from one state.
struct PhaseCell {
  PhaseArc arc;
  std::size_t state = 0;
  std::size_t played = 0;  // which of the passes that were played, in that order
};

// The states with which passes begin, by their phase. Each leads to that of the next pass, so once a pass has begun
// with its state here, all that follow do too.
struct PhaseMap {
  std::vector<PhaseCell> cells;  // in the order of their phases
  std::int64_t passes = 0;       // these are all that it speaks of; fewer than asked for where one ends otherwise

  [[nodiscard]] const PhaseCell* cell_of(std::int64_t phase) const;
};

// Remembers passes that were played: those of a loop that is entered again need not be played again.
class PhaseBook {
 public:
  // Looks for the map of the first `passes` passes, and plays up to `most` of them for that. `seed` is any state to
  // begin with. None where the states do not close,
  // or the passes do not go on.
  [[nodiscard]] std::optional<PhaseMap> find(const PhaseOrbit& orbit, std::int64_t passes, std::size_t seed,
                                             std::size_t most, PhasePasses& plays);

 private:
  struct Played {
    std::optional<std::size_t> state;
    std::size_t number = 0;
  };
  struct Search;

  std::vector<PhaseArc> arcs_;                                     // apart, in the order of their phases
  std::map<std::pair<std::size_t, std::int64_t>, Played> played_;  // by the state and the arc's lowest phase
};

}  // namespace rampart
