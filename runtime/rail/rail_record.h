#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/answer/simulation.h"
#include "runtime/rail/figures.h"
#include "runtime/rail/limit_room.h"
#include "runtime/rail/protection.h"

namespace rampart {

// What a rail reads at marks.
class MarkReadings {
 public:
  // `voltage` at the load, signed, and `current` are what it reads now.
  void read(std::string_view mark, double voltage, double current);
  // Marks reached as often as another rail's, times `times`, more.
  void add(const MarkReadings& other, std::int64_t times);
  // Counts what was added since `then` so many times more.
  void repeat_since(const std::vector<std::int64_t>& then, std::int64_t times);
  [[nodiscard]] std::vector<std::int64_t> reached() const;
  [[nodiscard]] const std::vector<MarkReading>& all() const { return all_; }

 private:
  std::vector<MarkReading> all_;
  std::map<std::string, std::size_t, std::less<>> places_;  // in `all_`, by name
};

// The greatest values on a rail.
struct RailPeaks {
  Peak current;
  Peak power;
  Peak voltage;
  // What the regulator gives, apart from an output capacitance: its peak is another one then.
  Peak regulator_power;

  // The circuit goes through its planned piece.
  void advance(const circuit::Circuit& circuit, bool has_output_capacitance, const Instant& from, const Doing& doing);
};

// What a rail's run has come to so far: what sums and remembers. None of it changes what the rail does.
struct RailRecord {
  RailSums sums;
  RailPeaks peaks{};
  LimitRoom limit_room{};
  MarkReadings marks{};
  std::vector<ModeChatter> chatter{};
  double stored_at_start = 0;              // J
  std::vector<double> lost_in_replaced{};  // J, in the elements that stood there before a fault

  explicit RailRecord(std::size_t elements) : sums(elements) {}

  // `stored`: J in the load now.
  [[nodiscard]] EnergyBalance balance(double stored) const;
};

}  // namespace rampart
