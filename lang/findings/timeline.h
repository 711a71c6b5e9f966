#pragma once

#include "lang/findings/finding.h"

// Findings: how statements fit together over time.
namespace rampart::finding {
#define RAMPART_FINDING_LIST "lang/findings/timeline.def"
#include "lang/findings/declare.inc"
}  // namespace rampart::finding
