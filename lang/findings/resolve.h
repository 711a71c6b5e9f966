#pragma once

#include "lang/findings/finding.h"

// Findings: names and values.
namespace rampart::finding {
#define RAMPART_FINDING_LIST "lang/findings/resolve.def"
#include "lang/findings/declare.inc"
}  // namespace rampart::finding
