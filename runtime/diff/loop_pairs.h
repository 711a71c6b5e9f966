#pragma once

#include <map>

#include "compiler/timeline/timeline.h"

namespace rampart::diff {

// The loops of two programs, each with its partner, where both have as many of them nested alike in the order of the
// text. Loops inside of `together` are no loops of a table.
class LoopPairs {
 public:
  LoopPairs(const Timeline& before, const Timeline& after);

  // False: no loop has a partner.
  [[nodiscard]] bool any() const { return !partners_.empty(); }
  [[nodiscard]] bool are_paired(LoopId before, LoopId after) const;

 private:
  std::map<LoopId, LoopId> partners_;  // of the old program
};

}  // namespace rampart::diff
