#pragma once

#include "compiler/bench/bench.h"
#include "lang/findings/finding.h"
#include "runtime/audit/record.h"

namespace rampart::audit {

// Holds what is set up before a table against what the channels of a bench have. Findings at `place`:
// protection-unsupported, protection-range, sense-unsupported, and table-malformed for what the bench does not know,
// for what is set up twice and for a table that was made for other steps.
void check_setup(const Record& record, const Bench& bench, const Span& place, FindingSink& findings);

}  // namespace rampart::audit
