#pragma once

#include "compiler/table.h"
#include "lang/finding.h"

namespace rampart {

// Tests the run, and the orderly stop where there is one, against the limits of the bench and the practice of the
// trade. Findings come in the order of the places they point to. Those of practice that the profile accepts are left
// out.
void run_checks(const Table& run, const Table* safe, FindingSink& findings);

}  // namespace rampart
