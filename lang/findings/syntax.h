#pragma once

#include "lang/findings/finding.h"

// Findings: what the text of a profile can get wrong.
namespace rampart::finding {
#define RAMPART_FINDING_LIST "lang/findings/syntax.def"
#include "lang/findings/declare.inc"
}  // namespace rampart::finding
