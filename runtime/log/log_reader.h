#pragma once

#include <cstdint>
#include <cstdio>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <type_traits>
#include <vector>

#include "lang/findings/finding.h"
#include "runtime/log/log_columns.h"
#include "runtime/log/log_description.h"
#include "runtime/log/log_names.h"
#include "runtime/support/csv_reader.h"

namespace rampart {

// Findings kept of the lines of one log; what is found beyond is counted.
inline constexpr std::int64_t kMaxLogFindings = 20;

enum class LogMode : std::uint8_t { Unknown, ConstantVoltage, ConstantCurrent };

// One target, measured once. What the instrument could not say is missing.
struct LogReading {
  std::size_t target = 0;
  std::optional<double> volts;  // as the instrument shows it, in V and A
  std::optional<double> amps;
  std::optional<std::size_t> volts_by;  // of the description's instruments; none: the supply's own meter
  std::optional<std::size_t> amps_by;
  std::optional<bool> output;
  LogMode mode = LogMode::Unknown;
  // The log is to have it: a column of its own, or a cell that is not empty.
  bool expects_volts = false;
  bool expects_amps = false;
};

// What a supply acknowledged.
struct LogCommand {
  std::size_t target = 0;
  std::optional<double> volts;
  std::optional<double> amps;
  std::optional<bool> output;
  std::optional<double> planned_s;  // in its segment
  std::optional<double> sent_s;
  std::optional<double> acknowledged_s;
};

struct LogEvent {
  std::string_view word;  // "trip"
  std::string_view rest;  // "overvoltage"
  std::optional<std::size_t> target;
};

// Reads a log line by line in constant memory. A line that cannot be read is a finding and is left out. A cell of a
// reading that cannot be read is missing; one finding counts all of them.
class LogReader {
 public:
  // `stream` is at its beginning. Without `findings` nothing is reported, as in a second reading.
  LogReader(std::FILE* stream, const std::string& name, const LogDescription& description, const LogNames& names,
            FindingSink* findings);

  // Reads the header. False, after a finding, where it is none.
  [[nodiscard]] bool open();
  [[nodiscard]] const LogColumns& columns() const { return columns_; }

  // The next line that says something. False at the end. What it says is valid until the next call.
  [[nodiscard]] bool next();
  // Reports what concerns the log as far as it was read; next() does at the end. Once is enough.
  void finish();
  [[nodiscard]] Nanoseconds time() const { return time_; }
  [[nodiscard]] std::string_view segment() const { return segment_; }
  [[nodiscard]] const std::vector<LogReading>& readings() const { return readings_; }
  [[nodiscard]] const std::optional<LogCommand>& command() const { return command_; }
  [[nodiscard]] const std::optional<LogEvent>& event() const { return event_; }

  [[nodiscard]] std::uint32_t line() const { return csv_.number(); }
  [[nodiscard]] std::string_view text() const { return csv_.text(); }
  [[nodiscard]] bool failed() const { return csv_.failed(); }
  [[nodiscard]] std::int64_t broken_lines() const { return broken_; }
  [[nodiscard]] std::int64_t broken_cells() const { return broken_cells_; }

 private:
  // The columns that say what one target reads; without a target that of the row.
  struct Group {
    std::optional<std::size_t> target;
    std::optional<std::size_t> volts;
    std::optional<std::size_t> amps;
    std::optional<std::size_t> output;
    std::optional<std::size_t> mode;
    std::optional<std::size_t> quality;
  };

  void make_groups();
  bool read_line();
  bool take_readings();
  bool take_group(const Group& group);
  void read_cells(const Group& group, LogReading& reading);
  bool take_command();
  bool take_event();
  // What the row is about; nothing where it does not say.
  bool read_target(std::optional<std::size_t>& target);
  bool read_value(LogColumnKind kind, std::optional<double>& value);
  bool read_seconds(LogColumnKind kind, std::optional<double>& value);
  // False for what is none of these; true for what is empty.
  bool read_number(std::size_t column, std::optional<double>& value) const;
  bool read_output(std::size_t column, std::optional<bool>& value) const;
  bool read_mode(std::size_t column, LogMode& mode) const;
  bool refuse_field(std::size_t column, std::string_view wanted);
  void miss_field(std::size_t column, std::string_view wanted);
  [[nodiscard]] Span place_of_field(std::size_t column, FileId file) const;
  [[nodiscard]] std::string hint_of_field(std::string_view text) const;
  bool refuse_header(std::span<const std::string_view> fields, const std::string& why);
  bool refuse_fields();
  // Always false.
  template <class... Arguments>
  bool refuse(const FindingKind<Arguments...>& kind, const std::type_identity_t<Arguments>&... arguments) {
    return refuse_with(std::string(), kind, arguments...);
  }
  template <class... Arguments>
  bool refuse_with(const std::string& hint, const FindingKind<Arguments...>& kind,
                   const std::type_identity_t<Arguments>&... arguments);
  [[nodiscard]] std::string_view field(std::size_t column) const { return csv_.fields()[column]; }

  const std::string& name_;
  const LogDescription& description_;
  const LogNames& names_;
  FindingSink* findings_;
  CsvReader csv_;
  LogColumns columns_;
  std::vector<Group> groups_;
  std::optional<std::size_t> kind_;
  std::optional<std::size_t> segment_column_;

  std::optional<Nanoseconds> first_;  // of the times
  Nanoseconds time_{0};
  std::string_view segment_;
  std::vector<LogReading> readings_;
  std::optional<LogCommand> command_;
  std::optional<LogEvent> event_;
  std::int64_t reported_ = 0;
  std::int64_t broken_ = 0;
  struct Cell {
    Span place;
    std::string text;
    std::string header;
    std::string_view wanted;
    std::string hint;
  };
  std::optional<Cell> first_cell_;  // that could not be read
  std::int64_t broken_cells_ = 0;
};

}  // namespace rampart
