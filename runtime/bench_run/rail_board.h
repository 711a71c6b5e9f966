#pragma once

#include <optional>
#include <string>
#include <vector>

#include "runtime/bench_run/mailbox.h"
#include "runtime/bench_run/plan.h"
#include "runtime/bench_run/run_view.h"

namespace rampart::bench_run {

// What was last heard of each channel, put together to rails for a person at the bench.
class RailBoard {
 public:
  // The plan has to live as long.
  explicit RailBoard(const Plan& plan) : plan_(plan), channels_(plan.channels.size()) {}

  // The supply has acknowledged this row.
  void take(const TableRow& row);
  void take(const Reading& reading);
  // The channel is off and stays off.
  void note_trip(std::size_t channel, const std::string& cause);
  void note_off(std::size_t channel) { channels_[channel].is_on = false; }

  // As it was commanded, unless it has tripped.
  [[nodiscard]] bool is_on(std::size_t channel) const { return channels_[channel].is_on; }
  // Why it has tripped; empty: it has not.
  [[nodiscard]] const std::string& trip_cause(std::size_t channel) const { return channels_[channel].trip_cause; }
  [[nodiscard]] std::vector<RailStatus> rails() const;
  // "left.ch1 (3.3 V), right.ch1"; "none".
  [[nodiscard]] std::string outputs_on() const;

 private:
  struct Shown {
    bool is_on = false;
    std::optional<Rational> set_V;
    std::optional<Rational> set_A;
    std::optional<double> measured_V;
    std::optional<double> measured_A;
    std::string mode;
    std::string trip_cause;
  };
  [[nodiscard]] RailStatus status_of(const TableRail& rail) const;

  const Plan& plan_;
  std::vector<Shown> channels_;
};

}  // namespace rampart::bench_run
