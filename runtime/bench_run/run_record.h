#pragma once

#include <optional>
#include <string>
#include <vector>

#include "runtime/bench_run/plan.h"
#include "runtime/bench_run/run_end.h"
#include "runtime/bench_run/start_checks.h"

namespace rampart::bench_run {

struct NamedDigest {
  std::string name;
  std::string sha256;
};

// What the record of a run says besides its log: docs/run.md.
struct RunRecord {
  std::string run_id;
  std::string start_utc;  // ISO 8601
  std::string zone;       // of this computer, "+02:00"
  NamedDigest table;
  NamedDigest bench;
  NamedDigest link;
  std::string device;  // empty: not given
  std::string operator_name;
};

// With a random id and the time of now.
[[nodiscard]] RunRecord begin_record();

// The record as JSON, as docs/run_record.schema.json describes it. `end`: none while the run goes on, or where it was
// killed. `log_sha256`: empty where the log is not whole.
[[nodiscard]] std::string record_json(const RunRecord& record, const Plan& plan,
                                      const std::vector<ReadySupply>& supplies, const RunEnd* end,
                                      const std::string& log_sha256);

}  // namespace rampart::bench_run
