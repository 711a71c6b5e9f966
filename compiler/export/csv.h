#pragma once

#include "compiler/export/text_sink.h"
#include "compiler/table.h"

namespace rampart {

// Writes the table as RFC 4180 text: `time_s,channel,voltage_V,current_A,output`, a row per change of a channel, the
// action of a line as a row with empty voltage and current. Times have nine decimals, voltages and currents as many as
// their channel's resolution. A table with waits, or one with a `safe` block beside it, gets a first column `segment`:
// 1, 2, … for the run, `safe` for the block, whose rows leave empty what stays as the trip left it. Lines end in LF.
// Memory does not grow with the table.
void write_csv(const Table& run, const Table* safe, TextSink& sink);

}  // namespace rampart
