#pragma once

#include <map>

#include "runtime/play/added_passes.h"
#include "runtime/play/drifting_passes.h"
#include "runtime/play/pass_state.h"
#include "runtime/play/phased_passes.h"

// Loops whose passes need not all be gone through.
//
// At each end of a pass the whole state of the run is compared with that at the end before (pass_state.h). Where both
// agree, what happened in between happens again as often as the loop goes on, so it is multiplied; incidents, outputs
// that grow hot and switches that wait bound how often. Where they differ in the numbers of one linear circuit alone,
// the passes may drift (drifting_passes.h). Passes that no whole number of them puts on the supply's time grid again
// never end in the same state as the one before; those are sorted by their phase on the grid (phased_passes.h).
namespace rampart {

class PassFolds {
 public:
  // Passes were added.
  [[nodiscard]] bool have_added() const { return !added_.answer().empty(); }
  // A pass has ended and its rows are in effect: adds passes after it where that can be done. Tells whether they were
  // added by their phases.
  bool add_by_phase(const FoldSite& site, const PassEnded& pass);
  // The same for those that are alike or drift.
  void add_alike(const FoldSite& site, const PassEnded& pass);
  // Later passes may be added by their phases.
  [[nodiscard]] bool may_add_by_phase(const FoldSite& site, const PassEnded& pass) const {
    return phased_.may_add(site, pass);
  }
  // A reading was taken that begins at this instant.
  void note_reading(const Instant& begin);
  void note_walked(const PassEnded& pass) { added_.note_walked(pass); }

  // Passes before and after this instant have nothing in common.
  void forget();
  // The loads' pulses are others now.
  void forget_ends() { ends_.clear(); }
  // A rail has tripped.
  void forget_phases() { phased_.forget(); }
  [[nodiscard]] std::vector<FoldedLoop> answer() const { return added_.answer(); }

 private:
  // How far the readings of the passes since `before` reach back before it, s.
  [[nodiscard]] double reach_of(LoopId loop, const PassState& before) const;
  [[nodiscard]] PassState end_of(const FoldSite& site, const PassEnded& pass) const;

  std::map<LoopId, PassState> ends_;  // the last known of each loop
  // The earliest begin of the readings that a loop has taken since then. Passes are alike in these only where the
  // passes before them were alike for as long.
  std::map<LoopId, Instant> reading_begins_;
  DriftingPasses drifting_;
  PhasedPasses phased_;
  AddedPasses added_;
};

}  // namespace rampart
