#pragma once

#include "lang/findings/finding.h"

// Findings: what will happen: rules and the simulation.
namespace rampart::finding {
#define RAMPART_FINDING_LIST "lang/findings/predicted.def"
#include "lang/findings/declare.inc"
}  // namespace rampart::finding
