#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "runtime/as_run/located_run.h"
#include "runtime/fit/fit_readings.h"
#include "runtime/fit/least_squares.h"
#include "runtime/load/load.h"
#include "runtime/rail/deviation.h"
#include "runtime/scenario/load_values.h"

namespace rampart::fit {

// A value of the load that was written with a tolerance.
struct LoadValue {
  std::size_t rail = 0;   // of the table
  std::size_t place = 0;  // of Load::rails
  std::size_t value = 0;  // in the order of spread::visit_values
  std::string name;       // "resistance of resistor 1 of logic"
  std::string key;
  std::string unit;
  std::optional<std::size_t> element;  // none: the wire
  Toleranced design;
};

// What a fit moves. Every parameter runs from -1 to 1, or counts in standard deviations of what was known before.
class Parameters {
 public:
  enum class Of : std::uint8_t {
    LoadValue,     // from the low end of its tolerance to the high one
    VoltageShare,  // of what the supply's accuracy allows
    VoltageOffset,
    LimitShare,
    LimitOffset,
    Shift,       // of a log, s
    OwnShift,    // of one supply and instrument in a log that has several, s
    Clock,       // of a log, what it is fast by, as a share
    MeterShare,  // of what the meter's accuracy allows
    MeterOffset
  };
  struct One {
    Of of{};
    std::size_t index = 0;   // of values(), of the logs, of the series, Series::timing
    std::size_t rail = 0;    // of a supply's
    std::size_t member = 0;  // likewise
    double size = 0;         // of a supply's or a log's: what 1 is
    // Moves the times of these readings.
    [[nodiscard]] bool is_time_of(const Series& series) const {
      if (of == Of::OwnShift) return index == series.timing;
      return (of == Of::Shift || of == Of::Clock) && index == series.log;
    }
    // Needs another run of the simulation.
    [[nodiscard]] bool is_played() const { return of <= Of::LimitOffset; }
  };

  // `limited`: by rail, whether the limits of its supply count.
  Parameters(const as_run::LocatedRun& run, const std::vector<Series>& series, const std::vector<bool>& limited);

  [[nodiscard]] const std::vector<LoadValue>& values() const { return values_; }
  [[nodiscard]] const std::vector<One>& all() const { return all_; }
  [[nodiscard]] const std::vector<Bounded>& bounds() const { return bounds_; }
  // Of a value of the load: nothing is known beforehand but the tolerance; or it is as likely here as there within it.
  void forget(std::size_t value) { bounds_[value].weight = 0; }
  // What the value is.
  [[nodiscard]] double value_at(std::size_t value, double position) const;

  [[nodiscard]] Load load_at(const Load& load, const std::vector<double>& at) const;
  [[nodiscard]] std::vector<RailDeviation> deviations_at(const Table& table, const std::vector<double>& at) const;

 private:
  void add(const One& one, const Bounded& bounded);
  void add_values(const as_run::LocatedRun& run, const std::vector<Series>& series);
  void add_supplies(const Table& table, const std::vector<bool>& limited);
  void add_logs(const as_run::LocatedRun& run, const std::vector<Series>& series);
  void add_times(const as_run::LocatedRun& run, const std::vector<Series>& series, std::size_t log);

  std::vector<LoadValue> values_;
  std::vector<One> all_;  // those of the load first
  std::vector<Bounded> bounds_;
};

}  // namespace rampart::fit
