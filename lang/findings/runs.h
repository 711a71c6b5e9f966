#pragma once

#include "lang/findings/finding.h"

// Findings: why a run on real supplies is refused.
namespace rampart::finding {
#define RAMPART_FINDING_LIST "lang/findings/runs.def"
#include "lang/findings/declare.inc"
}  // namespace rampart::finding
