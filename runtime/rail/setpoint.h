#pragma once

#include <optional>
#include <vector>

#include "compiler/bench/switch_delay.h"
#include "compiler/table/table.h"
#include "lang/values/instant.h"
#include "runtime/circuit/rail_circuit.h"
#include "runtime/rail/deviation.h"
#include "runtime/rail/slewed_voltage.h"

namespace rampart {

// What a rail's output is set to, from the rows of its channels: volts and amperes of the whole combination, straight
// lines on supplies that interpolate, and no faster than the slew; nothing until the output's switch has closed.
class Setpoint {
 public:
  Setpoint(const Table& table, const RailSetup& setup, const RailDeviation& deviation);

  // Takes a row of one of the channels; `base` is the start of its segment. In effect from begin() on.
  void take(const Row& row, const Instant& base);
  // Every channel stays where it is: what it was on the way to does not come. begin() is wanted.
  void halt(const Instant& now);
  // True once every channel has had a row.
  [[nodiscard]] bool given() const;
  [[nodiscard]] const Span& statement() const { return members_.front().row.statement; }

  // What the rows ask for, whatever the slew makes of it.
  struct Wanted {
    double voltage = 0;
    bool on = false;
    bool runs = false;   // straight on to the next row
    bool stair = false;  // of a ramp that goes on
    [[nodiscard]] bool moves() const { return runs || stair; }
  };
  [[nodiscard]] Wanted wanted(const Instant& now) const;

  // What is set, or where it is heading, may have changed now. `off`: switched off whatever the rows say.
  void begin(const Instant& now, bool off);
  // The output's switch: begin() tells it what the rows ask for.
  [[nodiscard]] const OutputSwitch& contact() const { return switch_; }
  // True if it closes now: what is set is in effect from now on.
  [[nodiscard]] bool close_contact(const Instant& now);
  // In effect at `now`, on the way that the last begin() found.
  [[nodiscard]] circuit::Setting at(const Instant& now) const;
  // The instant after `now` at which a straight way ends and begin() is wanted, or the switch closes.
  [[nodiscard]] std::optional<Instant> corner(const Instant& now) const;
  void shift(const Instant& by);
  void put_off_contact(const Instant& by) { switch_.put_off(by); }
  // What is still to come of it without another row: times in s from now, and where it leads.
  void add_course(const Instant& now, std::vector<double>& course) const;

 private:
  struct Member {
    ChannelId channel{};
    double voltage_count = 0;
    double current_count = 0;
    ChannelDeviation off_by;
    Row row;
    Instant base;
    bool given = false;
  };
  [[nodiscard]] circuit::Setting target(const Instant& now) const;
  [[nodiscard]] SlewedVoltage::Aims aims(const Instant& now) const;

  std::vector<Member> members_;
  std::optional<Arrangement> arrangement_;
  OutputSwitch switch_;
  std::optional<SlewedVoltage> slewed_;  // where any member has a slew
};

}  // namespace rampart
