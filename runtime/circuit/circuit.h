#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "runtime/circuit/modal.h"
#include "runtime/circuit/network.h"
#include "runtime/circuit/owned.h"
#include "runtime/circuit/roots.h"

// One supply output and its load: which of its limits the output follows, and when that changes. What the load is made
// of, and how its equations are solved, is for the classes derived from Circuit.
namespace rampart::circuit {

// -1, 0 or 1: how a value lies to zero, with its slope where it cannot be told from zero.
[[nodiscard]] int side_of(double value, double tolerance, double slope, double slope_noise);

// Two values that differ by less are the same: a thousand times what rounding leaves, far below what can be measured.
inline constexpr double kSame = 1e-12;
inline constexpr double kSameVolts = 1e-14;
inline constexpr double kSameAmps = 1e-15;
// How far a watched signal must pass its limit; far enough to stand out of rounding.
inline constexpr double kPassed = 1e-13;

enum class Mode : std::uint8_t {
  Off,              // no current
  OffFreewheel,     // off; an inductor keeps its current going at 0 V
  ConstantVoltage,  // the setpoint holds
  HeadroomLimited,  // remote sense: the terminals stand as far above the load as they may
  ConstantCurrent,  // the limit holds
  Clamped,          // an inductor carries more than the limit: 0 V until it has come down
  Holding,          // the load is above the setpoint, or the terminals too far above it: no current
  Sinking           // the same, and the supply takes what it can
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
  std::optional<double> headroom;  // remote sense: V that the terminals may rise above the load
};

// What the future of a circuit depends on: numbers, with the size that rounding is measured against, and which state
// each part is in that has several, as a number of its own.
struct Snapshot {
  std::vector<double> numbers;
  std::vector<double> scales;
  std::vector<std::size_t> parts;
  double same = kSame;  // numbers that differ by less, against their size, are the same
};

// By how much a number of the state has changed: not the difference of two values, which would be lost in rounding.
struct StateGain {
  double gained = 0;
  double moved = 0;  // up and down
};

// A part of the load that starts and stops by itself.
struct RunningPart {
  std::size_t element = 0;  // its place in the load's list
  bool runs = false;
};

// What is given up where changes follow each other without end: first the load's own ones, then those of mode.
enum class Follow : std::uint8_t { All, Modes, Nothing };

class Circuit {
 public:
  explicit Circuit(OutputTraits traits) : traits_(traits) {}
  virtual ~Circuit() = default;
  Circuit& operator=(const Circuit&) = delete;

  // Between two changes of mode all courses are affine in the numbers of the state.
  [[nodiscard]] virtual bool is_affine() const { return false; }
  // One in the same state, but without the planned piece: to see what would happen.
  [[nodiscard]] virtual std::unique_ptr<Circuit> copy() const = 0;
  // Of one that is affine: those numbers; and of a copy, by how much they have changed since.
  [[nodiscard]] virtual std::span<double> affine_state() { return {}; }
  [[nodiscard]] virtual std::vector<StateGain> gains() const { return {}; }

  // The setting from the present instant on. A jump takes effect at the next settle().
  void set(const Setting& setting) { setting_ = setting; }
  // Finds the mode that the output follows from the present instant on. Exact equality of what the load takes and a
  // limit is decided by where the two are heading, and where they are not, by `expected`.
  virtual void settle(std::optional<Mode> expected = std::nullopt) = 0;

  // What settling took from the stores of the load since it was last asked for, J, and the element it counts for.
  struct Jump {
    std::size_t element = 0;
    double lost = 0;
  };
  [[nodiscard]] std::optional<Jump> take_jump() { return std::exchange(jump_, std::nullopt); }

  // Which changes the coming pieces follow, from the next settle() on. Where that is not all, they are rough, and no
  // shorter than `least` s but for a change.
  virtual void follow(Follow what, double least) {
    follow_ = what;
    least_ = least;
  }
  // Solves the coming time up to `length` s or the first change of mode. How long it lasts is the piece's length.
  virtual void plan(double length) = 0;
  // Shortens the planned piece.
  virtual void cut(double length) = 0;
  // Goes to the end of the piece. The mode it changes to there, if any, takes effect by settle(*changes_to()).
  virtual void advance() = 0;

  [[nodiscard]] Mode mode() const { return mode_; }
  [[nodiscard]] std::optional<Mode> changes_to() const { return change_; }
  // The change at the end of the piece is brought by time alone, as by the next pulse of a load.
  [[nodiscard]] virtual bool change_is_timed() const { return false; }
  // The periods of what the load does by time alone, s.
  [[nodiscard]] virtual std::vector<double> periods() const { return {}; }
  // Replaces `parts` by those that start and stop by themselves.
  virtual void read_running(std::vector<RunningPart>& parts) const { parts.clear(); }
  [[nodiscard]] const Piece& piece() const { return piece_; }
  [[nodiscard]] const Setting& setting() const { return setting_; }

  // In the load, J; the output capacitance is the supply's.
  [[nodiscard]] virtual double stored_energy() const = 0;
  // Adds what each element turned to heat or used during the piece, J, by its place in the load's list.
  virtual void add_losses(std::vector<double>& elements) const = 0;
  [[nodiscard]] virtual double wire() const = 0;
  // What an element of the load holds at present: the voltage of a capacitance, the current of an inductor.
  [[nodiscard]] virtual double held_by(std::size_t element) const = 0;
  // Of the state, measured against the largest voltage and current the rail has seen.
  [[nodiscard]] virtual Snapshot snapshot(double volts, double amps) const = 0;

  // Present values (right limits, once settled).
  [[nodiscard]] double terminal_voltage() const { return read(Quantity::TerminalVoltage, mode_).value; }
  [[nodiscard]] double terminal_current() const { return read(Quantity::TerminalCurrent, mode_).value; }
  [[nodiscard]] double regulator_current() const { return read(Quantity::RegulatorCurrent, mode_).value; }
  [[nodiscard]] double port_voltage() const { return read(Quantity::PortVoltage, mode_).value; }

 protected:
  Circuit(const Circuit&) = default;

  enum class Quantity : std::uint8_t { TerminalVoltage, TerminalCurrent, RegulatorCurrent, PortVoltage };
  // A quantity at the present instant, its slope, and how much of either may be rounding.
  struct Reading {
    double value = 0;
    double slope = 0;
    double value_noise = 0;
    double slope_noise = 0;
  };
  // Rises above zero when the mode ends.
  struct Watch {
    Signal signal;
    double scale = 0;
    Mode next{};
  };
  enum class Side : std::uint8_t { Under, Within, Over };

  // As if the output were in that mode.
  [[nodiscard]] virtual Reading read(Quantity quantity, Mode mode) const = 0;
  // The voltage that the output measures, where stored charge alone settles it: it cannot jump.
  [[nodiscard]] virtual std::optional<double> held_voltage() const = 0;
  // See Network::compensates().
  [[nodiscard]] virtual bool compensates() const = 0;
  // Of the load, right at its port.
  [[nodiscard]] virtual double port_capacitance() const = 0;
  // Sets that voltage to the setpoint, which it equals but for rounding.
  virtual void hold(double voltage) = 0;
  // With remote sense, the voltage of a capacitance that holds the terminals.
  [[nodiscard]] virtual std::optional<double> held_terminals() const = 0;
  // Only inductors take current.
  [[nodiscard]] virtual bool current_is_state() const { return false; }
  [[nodiscard]] virtual bool has_inductors() const = 0;
  // Of the terminals' current, what the solution leaves open, A.
  [[nodiscard]] virtual double current_noise() const { return 0; }
  [[nodiscard]] virtual Mode decide_off(std::optional<Mode> expected) const = 0;

  // Behind a wire a clamped output lets the port go a little below 0 V; once off, the coil keeps it at 0 V, and what is
  // stored there is lost in the coil's way.
  void note_jump(double lost);
  // The place of the first inductor in the load's list of elements.
  [[nodiscard]] virtual std::size_t first_inductor() const = 0;
  [[nodiscard]] Mode decide(std::optional<Mode> expected);
  // Replaces `found` by what is to be watched in the planned piece.
  void find_watches(std::vector<Watch>& found) const;
  [[nodiscard]] double turning_point() const;
  [[nodiscard]] Drive drive_of(Mode mode) const;
  [[nodiscard]] Driving driving_of(Mode mode) const;
  // In this mode an output capacitance goes with the load.
  [[nodiscard]] bool leads_terminals(Mode mode) const {
    return held_terminals() && (mode == Mode::ConstantVoltage || mode == Mode::HeadroomLimited);
  }
  // Without a wire there is nothing to make up for.
  [[nodiscard]] bool sensed() const { return traits_.headroom.has_value() && wire() > 0; }

  OutputTraits traits_;
  Setting setting_;
  Mode mode_ = Mode::Off;
  Follow follow_ = Follow::All;
  double least_ = 0;
  NotCopied<Piece> piece_;  // its signals point into it
  std::optional<Mode> change_;
  std::optional<Jump> jump_;
  double same_ = kSame;  // voltages that differ by less, relatively, are the same

 private:
  [[nodiscard]] Mode decide_by_state(std::optional<Mode> expected);
  [[nodiscard]] Mode decide_over(std::optional<Mode> expected) const;
  [[nodiscard]] Mode decide_inductive(std::optional<Mode> expected) const;
  [[nodiscard]] Mode above() const { return traits_.sink > 0 ? Mode::Sinking : Mode::Holding; }
  // What remote sense lets through the wire, A.
  [[nodiscard]] double headroom_current() const { return *traits_.headroom / wire(); }
  [[nodiscard]] Side compare_headroom() const;
  [[nodiscard]] Mode decide_headroom(std::optional<Mode> expected) const;
  [[nodiscard]] Mode decide_sensed(std::optional<Mode> expected) const;
  [[nodiscard]] Mode unless_clamped(Mode mode, std::optional<Mode> expected) const;
  // What bounds the current where nothing is stored at the terminals.
  struct Ceiling {
    Mode mode{};
    double current = 0;
    double slope = 0;
  };
  [[nodiscard]] Ceiling ceiling() const;
  [[nodiscard]] Signal above_setpoint() const;
  [[nodiscard]] Signal above_headroom() const;
  [[nodiscard]] Side compare_current(std::optional<Mode> expected) const;

  int refused_ = 0;  // changes of mode in a row that the state contradicted
};

}  // namespace rampart::circuit
