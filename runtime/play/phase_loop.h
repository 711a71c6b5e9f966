#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "runtime/fold/phase_book.h"
#include "runtime/play/fold.h"

namespace rampart {

class Player;

// The end of a pass, as the next one finds it. Instants are counted from the last common time of all grids before it.
struct PhaseState {
  std::shared_ptr<const Player> at;
  PassState state;
  Instant origin;
  Instant pass_began;
  std::int64_t pass = 0;  // that has ended
  std::string old;        // which ages are those of something that began before the pass
};

// What a played pass adds up to on each rail.
struct PhaseSums {
  std::vector<RailSums> sums;
  std::vector<std::vector<MarkReading>> marks;
  bool walked = false;  // by the run itself: its peaks and margins are known
};

// A loop whose passes are no whole multiple of the grid, and what has been found out about it.
struct PhaseLoop {
  PhaseBook book;
  std::vector<PhaseState> states;
  std::map<std::string, std::vector<std::size_t>> by_table;  // states by what does not differ by rounding
  std::vector<PhaseSums> played;

  // The pass that ended last.
  std::vector<RailState> setpoints;
  Passes outer;
  std::int64_t last_pass = 0;
  Instant last_end;

  // The passes from `first` on.
  std::optional<PhaseMap> map;
  PhaseOrbit orbit;
  std::int64_t first = 0;
  Passes of;  // the outer passes that it was found in
  // Passes that are to be walked, by the first at which they come; found once a pass begins with its state.
  std::optional<std::map<std::int64_t, std::size_t>> to_walk;
  std::size_t seed = 0;  // the state to look from
  int misses = 0;        // passes since the map was found that did not begin with its states
  int most_misses = 4;   // then it is looked for anew, from another state
  bool failed = false;
};

}  // namespace rampart
