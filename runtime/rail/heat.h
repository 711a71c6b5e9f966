#pragma once

#include <string>
#include <vector>

#include "compiler/table/table.h"
#include "lang/values/instant.h"
#include "runtime/circuit/circuit.h"
#include "runtime/rail/protection.h"

namespace rampart {

// How warm one channel's output stage is: tau dT/dt = T_ambient + R (V_internal - v) i - T, one pole, in K and s. It
// starts at ambient. Of a combination's voltage and current a channel has its share.
class OutputHeat {
 public:
  OutputHeat(const Channel& channel, double voltage_share, double current_share);

  // Within the planned piece: s until the limit is reached, or no end; over `heats()` it acts at once.
  [[nodiscard]] double time_to_limit(const circuit::Piece& piece) const;
  [[nodiscard]] bool too_hot() const { return temperature_ >= limit_ * (1 - 1e-12); }
  // Goes through the piece.
  void advance(const circuit::Piece& piece, const Instant& from, const Doing& doing);

  // A stretch of `length` s has led from `before` to the present temperature and comes again and again with the same
  // power: each time T becomes a T + b. How often, up to `most`, this is sure not to reach the limit; while it still
  // gets warmer one time less than `most`, since the last stretch is the hottest and shall be gone through.
  [[nodiscard]] std::int64_t safe_repeats(double before, double length, std::int64_t most) const;
  // Where it stands after so many such stretches more.
  void repeat(double before, double length, std::int64_t times);

  [[nodiscard]] const std::string& channel() const { return channel_; }
  [[nodiscard]] double temperature() const { return temperature_; }
  [[nodiscard]] double limit() const { return limit_; }
  [[nodiscard]] double ambient() const { return ambient_; }
  [[nodiscard]] double rise() const { return limit_ - ambient_; }
  [[nodiscard]] const Peak& hottest() const { return hottest_; }

 private:
  class Course;

  std::string channel_;
  double internal_voltage_;
  double resistance_;
  double time_constant_;
  double ambient_;
  double limit_;
  double voltage_share_;
  double current_share_;
  double temperature_;
  Peak hottest_;
};

// One for each of the rail's channels that the bench gives thermal data for. Shares go by the members' ranges.
[[nodiscard]] std::vector<OutputHeat> heat_of(const Table& table, const RailSetup& setup);

}  // namespace rampart
