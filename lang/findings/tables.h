#pragma once

#include "lang/findings/finding.h"

// Findings: finished tables held against a bench, and templates for them.
namespace rampart::finding {
#define RAMPART_FINDING_LIST "lang/findings/tables.def"
#include "lang/findings/declare.inc"
}  // namespace rampart::finding
