#pragma once

#include <span>
#include <string>
#include <vector>

#include "compiler/table/table.h"
#include "runtime/load/load.h"
#include "runtime/rail/deviation.h"

// What may differ from bench to bench and from device to device: values of the load, the accuracy of what the
// supplies are set to, and of their protections.
namespace rampart::spread {

// One thing that may be off, from -1 (its low end) over 0 (nominal) to 1 (its high end). Of a time that the bench gives
// as a range the middle is nominal.
struct Tolerance {
  std::string name;  // "capacitance of capacitor 2 of logic", "voltage of left.ch1"
  std::string low;   // "376 uF", "-0.1 % - 5 mV", "10 ms"
  std::string high;
};

// Load and outputs of one run.
struct Case {
  Load load;
  std::vector<RailDeviation> deviations;  // in the order of the profile's rails
};

class Tolerances {
 public:
  // Of the rails that the profile uses.
  Tolerances(const Table& table, const Load& load);

  [[nodiscard]] const std::vector<Tolerance>& list() const { return list_; }
  // One position for each, -1 … 1.
  [[nodiscard]] Case at(std::span<const double> positions) const;

 private:
  enum class Of : std::uint8_t { Voltage, Current, Overvoltage, FuseDelay };
  struct SupplyError {
    Of of{};
    std::size_t rail = 0;
    std::size_t member = 0;
    SettingError most;
  };

  // A time of a supply, for all of its outputs that are in use: rails and members of them.
  struct SupplyTime {
    std::vector<std::pair<std::size_t, std::size_t>> outputs;
  };

  void add_load(const Profile& profile);
  void add_switches(const Table& table);
  void add_rail(const Table& table, std::size_t rail);
  void add_error(Of of, const std::string& name, std::size_t rail, std::size_t member, const SettingError& most);
  static SettingError& error_of(RailDeviation& rail, const SupplyError& error);

  Load load_;
  std::vector<RailDeviation> exact_;
  std::vector<std::size_t> loads_used_;  // of Load::rails
  std::vector<SupplyError> errors_;
  std::vector<SupplyTime> on_delays_;
  std::vector<Tolerance> list_;  // those of the load, of what the supplies are set to, of their times
};

}  // namespace rampart::spread
