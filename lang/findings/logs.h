#pragma once

#include "lang/findings/finding.h"

// Findings: logs of a run, and what they say of it.
namespace rampart::finding {
#define RAMPART_FINDING_LIST "lang/findings/logs.def"
#include "lang/findings/declare.inc"
}  // namespace rampart::finding
