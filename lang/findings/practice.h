#pragma once

#include "lang/findings/finding.h"

// Findings: what the trade advises.
namespace rampart::finding {
#define RAMPART_FINDING_LIST "lang/findings/practice.def"
#include "lang/findings/declare.inc"
}  // namespace rampart::finding
