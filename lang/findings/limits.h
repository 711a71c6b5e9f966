#pragma once

#include "lang/findings/finding.h"

// Findings: what the bench cannot do.
namespace rampart::finding {
#define RAMPART_FINDING_LIST "lang/findings/limits.def"
#include "lang/findings/declare.inc"
}  // namespace rampart::finding
