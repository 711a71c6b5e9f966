#pragma once

#include <cstdint>
#include <vector>

#include "runtime/play/run.h"

namespace rampart {

// The passes that were added to a run without being gone through: tells of them, and lets their time go by.
class AddedPasses {
 public:
  // A pass of this loop was gone through.
  void note_walked(const PassEnded& pass);
  // The table goes on as if `count` passes had been given, and the time with it. Gives the loop's record.
  FoldedLoop& skip(Run& run, const PassEnded& pass, std::int64_t count, const Instant& added, bool new_segments,
                   bool drifting);
  // Tells of added passes and lets their time go by, where the table has been moved on already.
  FoldedLoop& note(Run& run, const PassEnded& pass, std::int64_t count, const Instant& added, bool drifting);
  [[nodiscard]] std::vector<FoldedLoop> answer() const;

 private:
  // None where nothing was added yet.
  FoldedLoop* record_of(const PassEnded& pass);

  std::vector<FoldedLoop> loops_;
};

}  // namespace rampart
