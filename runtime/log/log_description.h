#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "compiler/bench/meter.h"
#include "lang/findings/finding.h"
#include "lang/text/source.h"
#include "runtime/log/log_values.h"

// How a log is written, and what measured it: a file beside the log.
namespace rampart {

// What a column of a log is. The first ones have names of their own; Ignored is any other.
enum class LogColumnKind : std::uint8_t {
  Time,
  Kind,
  Segment,
  Channel,
  Rail,
  Voltage,
  Current,
  SetVoltage,
  SetCurrent,
  Output,
  Mode,
  Quality,
  Planned,
  Sent,
  Acknowledged,
  Text,
  Ignored
};

// The names of these columns in a log without a description.
struct LogColumnRow {
  LogColumnKind kind{};
  std::string_view header;  // "measured_V"
  std::string_view is;      // in a description: "voltage"
};
[[nodiscard]] std::span<const LogColumnRow> log_column_rows();

struct DescribedColumn {
  std::string header;
  Span span;
  LogColumnKind kind{};
  std::string name;      // of the rail or channel; empty: another column says it
  bool is_rail = false;  // with `name`
  double factor = 1;     // to SI units, with its sign
  std::optional<std::size_t> instrument;
};

struct LogInstrument {
  std::string name;
  Meter meter;
  std::string serial;
  std::optional<Date> calibration_due;
  Span due_span;
};

struct LogDevice {
  std::string part;
  std::string serial;
  std::string revision;
};

struct LogDescription {
  TextPtr text;  // that it was read from; null: the log has none
  std::string title;
  char separator = ',';
  bool decimal_comma = false;
  std::int64_t skip_lines = 0;
  LogTimeFormat time = LogTimeFormat::Seconds;
  std::optional<Nanoseconds> zone;  // ahead of UTC, of times without an offset
  Nanoseconds time_resolution{0};
  std::vector<DescribedColumn> columns;
  std::vector<LogInstrument> instruments;
  std::optional<std::size_t> instrument;  // that measured what no column says otherwise of; none: the supplies
  std::optional<Date> date;
  std::string who;
  LogDevice device;
  std::string ambient;
};

// Reads a log description (`*.log.yaml`). Empty when the findings hold an error of this file; every mistake is
// reported.
[[nodiscard]] std::optional<LogDescription> read_log_description(const SourceSet& sources, FileId file,
                                                                 FindingSink& findings);

}  // namespace rampart
