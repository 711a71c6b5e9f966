#pragma once

#include "compiler/export/text_sink.h"
#include "compiler/table/table.h"

namespace rampart {

// Writes what the rails are set to as a value change dump after IEEE 1364-2005, chapter 18: real signals `setpoint_V`
// and `limit_A` and a wire `output` a rail, a wire a trigger line. The timescale is the coarsest that every change lies
// on. Waits last as long as they are assumed to; `safe` is not in it. On a `linear` supply values change at its points
// only.
void write_vcd(const Table& run, TextSink& sink);

}  // namespace rampart
