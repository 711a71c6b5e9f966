#pragma once

#include "lang/findings/finding.h"

// Findings: bench and load files, and finding files at all.
namespace rampart::finding {
#define RAMPART_FINDING_LIST "lang/findings/files.def"
#include "lang/findings/declare.inc"
}  // namespace rampart::finding
