#pragma once

#include "compiler/export/text_sink.h"
#include "compiler/table/table.h"

namespace rampart {

// How long a jump takes in the sources: a piecewise-linear source cannot jump. Where the next change comes sooner than
// twice this, half the time to it.
inline constexpr Nanoseconds kSpiceEdge{1000};

// Writes the rails as an include file for a circuit simulator: for each rail R a source `V_R_set` and a switch `S_R`
// that drive the node `R` while the output is on, and a source `V_R_lim` whose volts are the current limit in amperes,
// for models that have one. Waits last as long as they are assumed to; `safe` is not in it.
void write_spice(const Table& run, TextSink& sink);

}  // namespace rampart
