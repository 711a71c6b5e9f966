#pragma once

#include <cstdio>
#include <string>
#include <vector>

#include "compiler/bench/bench.h"
#include "lang/findings/finding.h"
#include "runtime/bench_run/plan.h"

namespace rampart::bench_run {

// Checks a table against the bench as `audit` does, its set-up and its digest with it. Findings and refusals say what
// is wrong. `bench_sha256`: of the bench file, which has to be the one that the table was built for.
void audit_for_run(std::FILE* table, const std::string& name, const Bench& bench, const std::string& bench_sha256,
                   FindingSink& findings, std::vector<Refusal>& refusals);

}  // namespace rampart::bench_run
