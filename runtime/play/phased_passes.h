#pragma once

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <vector>

#include "runtime/fold/phase_book.h"
#include "runtime/play/added_passes.h"
#include "runtime/play/pass_state.h"

// Passes that are no whole multiple of the time grid.
//
// Such a pass begins at another phase of the grid each time, so its rows are rounded otherwise and no two passes in a
// row are alike. But rounding has few outcomes: the phases fall into arcs, and what a pass does depends on its arc and
// on the state it begins with (phase_book.h). First each kind of pass is played on trial, from the state that one
// before it leaves, until no new state comes up; then it is known which pass is of which kind, however many there are.
// After that the run itself goes through each kind once, at the first pass where it comes, so that peaks, margins and
// trips have their true instants. The passes between two of these are added: their sums by how often each kind comes,
// and the state that the last one ends in is taken over from its trial.
namespace rampart {

class PhasedPasses {
 public:
  // A pass has ended. True where passes after it were added.
  bool add(const FoldSite& site, const PassEnded& pass, AddedPasses& added);
  // Passes of this loop may be added later on.
  [[nodiscard]] bool may_add(const FoldSite& site, const PassEnded& pass) const;
  void forget() { loops_.clear(); }

 private:
  // The end of a pass, as the next one finds it. Instants are counted from the last common time of all grids before it.
  struct End {
    std::shared_ptr<const Run> at;
    PassState state;
    Instant origin;
    Instant pass_began;
    std::int64_t pass = 0;  // that has ended
    // By rail: which of the things whose ages are among the numbers began before the pass.
    std::vector<std::vector<bool>> began_before;
  };
  // What a played pass adds up to on each rail.
  struct Played {
    std::vector<RailSums> sums;
    std::vector<MarkReadings> marks;
    ReadingBook readings;
    bool walked = false;  // by the run itself: its peaks and margins are known
  };
  // What has been found out about one loop.
  struct Loop {
    PhaseBook book;
    std::vector<End> ends;
    std::map<StateKey, std::vector<std::size_t>> by_table;  // ends by what does not differ by rounding
    std::vector<Played> played;

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
    std::size_t seed = 0;  // the end to look from
    int misses = 0;        // passes since the map was found that did not begin with its states
    int most_misses = 4;   // then it is looked for anew, from another state
    bool failed = false;   // the states do not close
  };
  class Trials;

  static bool same_end(const End& a, const End& b);
  static End end_of(const Run& run, const PassEnded& pass, const Instant& began, Nanoseconds grid);
  static bool can_add(const FoldSite& site, const PassEnded& pass);
  static bool find_map(const FoldSite& site, const PassEnded& pass, Loop& loop, const End& end, Nanoseconds grid);
  static void plan_walk(Loop& loop, std::int64_t at);
  static bool add_from_map(const FoldSite& site, const PassEnded& pass, Loop& loop, const End& end, AddedPasses& added);
  // Adds the passes between two, counted as in the loop's map.
  static bool jump(const FoldSite& site, const PassEnded& pass, Loop& loop, std::int64_t from, std::int64_t to,
                   AddedPasses& added);

  std::map<LoopId, std::shared_ptr<Loop>> loops_;
};

}  // namespace rampart
