#pragma once

#include <cstdint>
#include <cstdio>
#include <string>

#include "compiler/bench/bench.h"
#include "lang/findings/finding.h"
#include "lang/text/source.h"
#include "runtime/audit/record.h"

namespace rampart::audit {

// Findings kept of one table; what is found beyond is counted.
inline constexpr std::int64_t kMaxFindings = 100;

struct AuditResult {
  std::int64_t rows = 0;
  std::int64_t left_out = 0;  // findings past the bound
  bool read_to_end = true;    // false: the stream failed
  bool is_document = true;    // false: JSON that broke off at a mistake, so that what it says of itself may be missing
  Record record;              // what a JSON table says of its origin and set-up
  std::string sha256_above;   // of its lines above the digest that it holds; empty: it holds none
};

// Hold a finished setpoint table against a bench, row by row, in constant memory. They know nothing of the profile that
// the table may come from, and share no code with the checks of the compiler: what those let through and what they miss
// is judged anew. Findings point to rows of `name`; the rows they show are added to `sources`.
// `beside`: what the file beside the table says, if there is one. JSON that holds a set-up itself goes by that,
// wherever in it the set-up stands: it is read twice, so what cannot be read again, such as a pipe, is copied to a
// nameless file.
AuditResult audit_csv(std::FILE* stream, const std::string& name, const Bench& bench, const Record* beside,
                      SourceSet& sources, FindingSink& findings);
AuditResult audit_json(std::FILE* stream, const std::string& name, const Bench& bench, const Record* beside,
                       SourceSet& sources, FindingSink& findings);

// The same for a table in either format: a JSON document begins with a brace.
AuditResult audit_table(std::FILE* stream, const std::string& name, const Bench& bench, const Record* beside,
                        SourceSet& sources, FindingSink& findings);

}  // namespace rampart::audit
