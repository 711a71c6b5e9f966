#pragma once

#include "compiler/export/row_form.h"
#include "compiler/export/text_sink.h"
#include "compiler/table/table.h"

namespace rampart {

// Writes the table as RFC 4180 text. Changes: `time_s,channel,voltage_V,current_A,output`, the action of a line as a
// row with empty voltage and current. Instants: `time_s`, then the three columns of each channel with its name before
// them, then a column a line; on a `linear` supply empty between the channel's own points. Times have nine decimals,
// voltages and currents as many as their channel's resolution. A table with waits, or one with a `safe` block beside
// it, gets a first column `segment`: 1, 2, … for the run, `safe` for the block, whose rows leave empty what stays as
// the trip left it. Lines end in LF. Memory does not grow with the table.
void write_csv(const Table& run, const Table* safe, RowForm form, TextSink& sink);

}  // namespace rampart
