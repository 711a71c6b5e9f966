#pragma once

#include "compiler/export/origin.h"
#include "compiler/export/row_form.h"
#include "compiler/export/text_sink.h"
#include "compiler/table/table.h"
#include "lang/text/source.h"

namespace rampart {

// Writes the table as one JSON document: origin, set-up, and the segments with their marks and rows, each on a line;
// last the SHA-256 digest of all lines above it. `texts` has those of the statements. Numbers are exact decimals
// without trailing zeros. docs/table.schema.json describes it. Memory does not grow with the table.
void write_json(const Table& run, const Table* safe, const Origin& origin, const SourceSet& texts, RowForm form,
                DigestSink& sink);

}  // namespace rampart
