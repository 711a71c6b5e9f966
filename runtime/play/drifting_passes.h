#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <vector>

#include "runtime/fold/drift.h"
#include "runtime/play/added_passes.h"
#include "runtime/play/pass_state.h"

namespace rampart {

// Adds passes that differ by the slow drift of one rail's linear circuit alone, as where a large capacitor charges
// through many of them. A pass is played on trial from several states on the way; where it goes through the same steps
// from all of them, the passes in between are added: see drift.h.
class DriftingPasses {
 public:
  // At the ends of two passes, `unit.unit` passes apart. Gives how many passes were added.
  std::int64_t add(const FoldSite& site, const PassEnded& unit, const PassState& before, const PassState& after,
                   AddedPasses& added);
  // How often passes were added.
  [[nodiscard]] std::int64_t count() const { return count_; }

 private:
  // The one rail whose state is another than a pass before, if passes may be added although it is.
  [[nodiscard]] static std::optional<Apart> drifting(const FoldSite& site, const PassState& before,
                                                     const PassState& after);
  // Plays a unit of passes from another state of that rail.
  [[nodiscard]] static std::optional<TrialPass> try_pass(const FoldSite& site, const PassEnded& unit,
                                                         const PassState& after, const Apart& apart,
                                                         const std::vector<double>& state);

  std::map<LoopId, DriftWatch> watches_;
  std::int64_t count_ = 0;
};

}  // namespace rampart
