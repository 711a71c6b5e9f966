#pragma once

#include <map>
#include <optional>
#include <tuple>
#include <vector>

#include "compiler/table/table.h"
#include "runtime/as_run/course_window.h"
#include "runtime/log/log_description.h"

// What a reading of a rail may be off, and over what time it is taken.
namespace rampart::as_run {

// How one quantity of a rail is read. SI units.
class RailMeter {
 public:
  // Of a supply's own meter on each of `members`, or of an instrument on the rail (one member).
  RailMeter(const std::vector<const Meter*>& members, Measured quantity, bool adds);

  // A meter is known, and how well it measures.
  [[nodiscard]] bool is_known() const { return is_known_; }
  // How far a reading of this value may be off, either way.
  [[nodiscard]] double error_at(double value) const;
  // The two parts of that, noise apart: a share of the value, and an offset.
  struct Accuracy {
    double fraction = 0;
    double offset = 0;
  };
  [[nodiscard]] Accuracy accuracy_at(double value) const;
  [[nodiscard]] double noise() const { return noise_; }
  [[nodiscard]] double window() const { return window_; }
  // A reading may end so long before its time stamp.
  [[nodiscard]] double latency_low() const { return latency_low_; }
  [[nodiscard]] double latency_high() const { return latency_high_; }
  // From the middle of what is read to its time stamp, and how far that is from it at most.
  [[nodiscard]] double lag() const { return (latency_low_ + latency_high_ + window_) / 2; }
  [[nodiscard]] double blur() const { return (latency_high_ - latency_low_ + window_) / 2; }
  [[nodiscard]] const std::optional<MeasuredAt>& at() const { return at_; }

 private:
  struct Step {
    double up_to = 0;
    double fraction = 0;
    double offset = 0;
  };
  std::vector<std::vector<Step>> members_;
  bool adds_;
  bool is_known_ = true;
  double noise_ = 0;
  double window_ = 0;
  double latency_low_ = 0;
  double latency_high_ = 0;
  std::optional<MeasuredAt> at_;
};

// The meters of all rails of a table.
class Meters {
 public:
  // `readbacks`: of the supplies, by channel.
  Meters(const Table& table, const LogDescription& description, const std::vector<std::optional<Meter>>& readbacks)
      : table_(&table), description_(&description), readbacks_(&readbacks) {}

  // What reads this quantity of a rail: an instrument of the description, or the supply's own meter.
  [[nodiscard]] const RailMeter& of(std::size_t rail, Measured quantity, const std::optional<std::size_t>& instrument);
  // Whether a reading of it is at the load.
  [[nodiscard]] bool is_at_load(std::size_t rail, const RailMeter& meter) const;

 private:
  const Table* table_;
  const LogDescription* description_;
  const std::vector<std::optional<Meter>>* readbacks_;
  std::map<std::tuple<std::size_t, Measured, std::optional<std::size_t>>, RailMeter> known_;
};

}  // namespace rampart::as_run
