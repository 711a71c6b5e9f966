#pragma once

#include <cstdint>

#include "compiler/table/table.h"
#include "runtime/answer/simulation.h"
#include "runtime/play/rig.h"

namespace rampart {

// Where a run stands in its table.
struct TablePlace {
  const Table* table;
  const Table* safe;  // what is played from a trip; none: the run goes on
  RowCursor cursor;
  Instant base;  // start of the segment
  Instant now;
  Passes passes;              // of the item that was taken last
  std::int64_t segments = 0;  // ended so far
  bool safe_playing = false;

  TablePlace(const Table& played, const Table* safe_table) : table(&played), safe(safe_table), cursor(played) {}
  void read_passes() { passes.assign(cursor.passes().begin(), cursor.passes().end()); }
};

// A run at one instant: all that its future depends on besides incidents.
struct Run {
  TablePlace place;
  Rig rig;

  // See Rig::trial().
  [[nodiscard]] Run trial(bool judges) const { return {place, rig.trial(judges)}; }
  // All is as it is, but later; the place in the table is left to the caller.
  void move_on(const Instant& by) {
    place.now = place.now.plus(by);
    rig.move_on(by);
  }
};

}  // namespace rampart
