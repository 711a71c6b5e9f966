#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "runtime/circuit/modal.h"
#include "runtime/circuit/network.h"
#include "runtime/circuit/roots.h"

// One supply output and its load: which of its limits the output follows, and when that changes.
namespace rampart::circuit {

enum class Mode : std::uint8_t {
  Off,              // no current
  OffFreewheel,     // off; an inductor keeps its current going at 0 V
  ConstantVoltage,  // the setpoint holds
  HeadroomLimited,  // remote sense asks for more than the terminals may rise
  ConstantCurrent,  // the limit holds
  Clamped,          // an inductor carries more than the limit: 0 V until it has come down
  Holding,          // the load is above the setpoint and the supply cannot take current
  Sinking           // the load is above the setpoint and the supply takes what it can
};

// What the output is set to from an instant on; the slopes a second are those of a supply that interpolates.
struct Setting {
  double voltage = 0;
  double voltage_slope = 0;
  double limit = 0;
  double limit_slope = 0;
  bool on = false;
};

struct OutputTraits {
  double sink = 0;                 // A that the output can take in
  std::optional<double> headroom;  // remote sense: V that the terminals may rise above the setpoint
};

class RailCircuit {
 public:
  RailCircuit(Parts parts, OutputTraits traits);
  // Signals of the piece point into it.
  RailCircuit(const RailCircuit&) = delete;
  RailCircuit& operator=(const RailCircuit&) = delete;

  // The setting from the present instant on. A jump takes effect at the next settle().
  void set(const Setting& setting) { setting_ = setting; }
  // Finds the mode that the output follows from the present instant on. Exact equality of what the load takes and a
  // limit is decided by where the two are heading, and where they are not, by `expected`.
  void settle(std::optional<Mode> expected = std::nullopt);

  // Solves the coming time up to `length` s or the first change of mode. How long it lasts is the piece's length.
  // Without `follow` the mode stays as it is.
  void plan(double length, bool follow = true);
  // Shortens the planned piece.
  void cut(double length);
  // Goes to the end of the piece. The mode it changes to there, if any, takes effect by settle(*changes_to()).
  void advance();

  [[nodiscard]] Mode mode() const { return mode_; }
  [[nodiscard]] std::optional<Mode> changes_to() const { return change_; }
  [[nodiscard]] const Piece& piece() const { return piece_; }
  [[nodiscard]] const std::vector<double>& state() const { return state_; }
  [[nodiscard]] const Network& network() const { return network_; }
  [[nodiscard]] const Setting& setting() const { return setting_; }
  // In the load; the output capacitance is the supply's.
  [[nodiscard]] double stored_energy() const;

  // Present values (right limits, once settled).
  [[nodiscard]] double terminal_voltage() const;
  [[nodiscard]] double terminal_current() const;
  [[nodiscard]] double regulator_current() const;
  [[nodiscard]] double port_voltage() const;

 private:
  // A form's value at the present instant, its slope, and how much of either may be rounding.
  struct Reading {
    double value = 0;
    double slope = 0;
    double value_noise = 0;
    double slope_noise = 0;
  };
  struct Watch {
    Signal signal;  // rises above zero when the mode ends
    double scale = 0;
    Mode next{};
  };
  enum class Side : std::uint8_t { Under, Within, Over };

  [[nodiscard]] Drive drive_of(Mode mode) const;
  [[nodiscard]] Driving driving_of(Mode mode) const;
  [[nodiscard]] Reading read(Form StateEquations::*form, Mode mode) const;
  [[nodiscard]] Reading read(const Form& form, const StateEquations& equations, const Driving& driving) const;
  [[nodiscard]] Mode decide(std::optional<Mode> expected);
  [[nodiscard]] Mode decide_off(std::optional<Mode> expected) const;
  [[nodiscard]] Mode decide_over(std::optional<Mode> expected) const;
  [[nodiscard]] Mode decide_inductive(std::optional<Mode> expected) const;
  [[nodiscard]] Side compare_current(std::optional<Mode> expected) const;
  [[nodiscard]] std::vector<Watch> watches() const;
  [[nodiscard]] double turning_point() const;
  [[nodiscard]] const Propagator& propagator(Mode mode);
  [[nodiscard]] bool sensed() const { return traits_.headroom.has_value(); }

  Network network_;
  OutputTraits traits_;
  std::array<std::optional<Propagator>, kDriveCount> propagators_;
  std::vector<double> state_;
  Setting setting_;
  Mode mode_ = Mode::Off;
  Piece piece_;
  std::optional<Mode> change_;
};

}  // namespace rampart::circuit
