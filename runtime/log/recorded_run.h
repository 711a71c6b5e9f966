#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/log/log_values.h"

namespace rampart {

// Longer records are refused, and so are deeper ones; of a list as many members are read.
inline constexpr std::size_t kMostRecordBytes = std::size_t{1} << 20;
inline constexpr int kMostRecordDepth = 16;
inline constexpr std::size_t kMostRecorded = 1000;
inline constexpr std::size_t kMostRecordText = 500;  // bytes of one text

struct RecordedFile {
  std::string name;
  std::string sha256;
};

struct RecordedParameter {
  std::string name;
  std::string value;
};

struct RecordedSupply {
  std::string name;
  std::string identification;
  std::string serial;
  std::string firmware;
  std::string calibration_due;
};

// What the record beside the log of a run says: docs/run_record.schema.json. What it does not say is empty.
struct RecordedRun {
  std::string run_id;
  std::string start_utc;  // ISO 8601
  std::string zone;       // "+02:00"
  std::string device;
  std::string operator_name;
  RecordedFile table;
  std::optional<RecordedFile> profile;  // that the table was built from
  std::vector<RecordedFile> imports;
  std::vector<RecordedFile> waveforms;
  std::optional<RecordedFile> bench;
  std::vector<RecordedParameter> parameters;
  std::vector<RecordedSupply> supplies;
  std::vector<std::string> set_by_hand;
  bool has_end = false;  // the player lived to write it
  std::string reason;    // why the run ended
  std::string log_sha256;

  // On the clock of the computer that played it.
  [[nodiscard]] std::optional<Date> day() const;
};

// Reads a record. Empty, and `why`, where it is none. Names and texts come without control characters.
[[nodiscard]] std::optional<RecordedRun> read_recorded_run(std::string_view text, std::string& why);

}  // namespace rampart
