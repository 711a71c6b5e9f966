#pragma once

#include <string>
#include <vector>

#include "compiler/export/origin.h"
#include "lang/files/files.h"
#include "lang/findings/finding.h"
#include "runtime/as_run/logger.h"

// The record that `run` writes beside its log.
namespace rampart::as_run {

// The path of the record that belongs to a log.
[[nodiscard]] std::string record_path(const std::string& log);

// Reads the record beside a log, where there is one. One that cannot be read is a finding.
void read_record(Files& files, Logger& logger, FindingSink& findings);

struct RecordCheck {
  std::vector<std::string> mismatches;   // log or profile are not those of the record; each is a finding too
  std::vector<std::string> not_checked;  // and why
};

// Compares a log and what it is evaluated with to its record.
[[nodiscard]] RecordCheck check_record(Files& files, const Logger& logger, const Origin& origin, FindingSink& findings);

}  // namespace rampart::as_run
