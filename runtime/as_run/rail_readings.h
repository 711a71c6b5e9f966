#pragma once

#include <optional>
#include <vector>

#include "compiler/table/table.h"
#include "runtime/log/log_reader.h"

// Readings of channels as readings of rails.
namespace rampart::as_run {

// One rail at one time. Voltages are signed as the profile writes them; current and power leave the terminals.
struct RailReading {
  std::size_t rail = 0;
  double time = 0;      // of the log, s: the last of its parts
  double earliest = 0;  // the first of them
  std::optional<double> volts;
  std::optional<double> amps;
  std::optional<std::size_t> volts_by;  // instrument of the description
  std::optional<std::size_t> amps_by;
  std::optional<bool> output;  // of all channels
  LogMode mode = LogMode::Unknown;
  bool expects_volts = false;  // as in LogReading, of any channel
  bool expects_amps = false;
};

// Puts the channels of a combination together. A reading of a rail is complete when every member was read once.
class RailReadings {
 public:
  RailReadings(const Table& table, const LogNames& names);

  // The rail reading that this one completes. None where it completes none, or belongs to no rail of the profile.
  [[nodiscard]] std::optional<RailReading> take(const LogReading& reading, double time);

 private:
  struct Member {
    std::size_t rail = 0;
    std::size_t place = 0;
  };
  struct Gathered {
    std::vector<std::optional<LogReading>> members;
    double earliest = 0;
    std::size_t count = 0;
  };
  [[nodiscard]] RailReading join(std::size_t rail, double time) const;

  const Table* table_;
  const LogNames* names_;
  std::vector<std::optional<Member>> by_channel_;
  std::vector<Gathered> gathered_;  // by rail
};

}  // namespace rampart::as_run
