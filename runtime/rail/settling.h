#pragma once

#include <cstdint>
#include <optional>

#include "compiler/rules/rule_plan.h"
#include "runtime/answer/shortfalls.h"
#include "runtime/circuit/circuit.h"
#include "runtime/rail/protection.h"
#include "runtime/rail/setpoint.h"

namespace rampart {

// How near a rail comes to a setpoint to be there, as a share of it, where the supply is not less accurate. Common
// practice, no source.
inline constexpr double kSettledShare = 0.01;

// The time that a rail had left when a setpoint was left again, against all the time that it stood.
struct SpareTime {
  double spare_s = 0;  // negative: so much more was needed, or all of had_s if that cannot be told
  double had_s = 0;
  double time_s = 0;  // when it was there, or the next change came
  Span statement;
  Passes passes;
};

// Whether a rail comes to its setpoints in the time that they stand, and with how much to spare.
//
// A setpoint that stands still opens a window, the next change of it closes it. In the window the voltage that the
// supply regulates is watched: that of the terminals, or with remote sense that of the load. The rail has settled at
// the first instant within kSettledShare of the setpoint, or within the supply's accuracy if that is more; at 0 V
// anything up to kChargedVolts is down. When the window closes, a rail that has settled had the rest of it to spare;
// one that has not is missing the time that it would still take if nothing changed.
//
// A ramp of stairs changes the setpoint too. Its first stair comes one interval after the ramp has begun, so a setpoint
// that stood for one interval only did not stand at all. How long an interval is shows at the second stair: until then
// the judgement is held back.
class Settling {
 public:
  Settling(std::optional<Accuracy<Volts>> accuracy, bool sensed) : accuracy_(std::move(accuracy)), sensed_(sensed) {}

  // What the rows ask for from now on. The circuit still follows what they asked for before.
  void want(const Setpoint::Wanted& wanted, const circuit::Circuit& circuit, const Instant& now, const Doing& doing);
  // The rail has to come down to the setpoint that came just now, from what it holds.
  [[nodiscard]] bool has_to_fall() const {
    return standing_ && !standing_->from && standing_->from_voltage > standing_->band.high;
  }
  void falls_from(StoredCharge charge) { standing_->from = std::move(charge); }
  // The circuit goes through its planned piece.
  void advance(const circuit::Circuit& circuit, const Instant& from);
  // The run ends.
  void finish(const circuit::Circuit& circuit, const Instant& now);
  // What the present setpoint was to bring does not matter any more.
  void forget() {
    standing_.reset();
    left_.reset();
  }
  // Passes were added: what has begun since `pass_began` began later.
  void shift(const Instant& by, const Instant& pass_began);
  // Goes on as another would, `by` and `passes` of the loop at `depth` later. What began before the other's last pass
  // did, and what was found, is its own.
  void continue_as(const Settling& other, const Instant& by, const Instant& pass_began, const PassShift& passes);
  // How long ago what it follows began, s; less than 0 for what began before the pass.
  void add_ages(const Instant& now, const Instant& pass_began, std::vector<double>& ages) const;
  // For comparing passes.
  enum class Phase : std::uint8_t { NoSetpoint, Waiting, Settled };
  [[nodiscard]] Phase phase() const {
    return !standing_ ? Phase::NoSetpoint : standing_->settled ? Phase::Settled : Phase::Waiting;
  }

  // The setpoint that stands now.
  struct Stand {
    double setpoint = 0;
    Instant since;
    std::optional<Instant> settled;
  };
  [[nodiscard]] std::optional<Stand> stand() const {
    return standing_ ? std::optional(Stand{standing_->setpoint, standing_->since, standing_->settled}) : std::nullopt;
  }
  // What the supply regulates, now.
  [[nodiscard]] double measured(const circuit::Circuit& circuit) const;

  // The least, by its share of the time there was.
  [[nodiscard]] const std::optional<SpareTime>& least() const { return least_; }
  [[nodiscard]] const Shortfalls& shortfalls() const { return shortfalls_; }
  // Voltages of `setpoint` that count as it.
  [[nodiscard]] circuit::Bounds band(double setpoint) const;

 private:
  // A setpoint that stands still.
  struct Standing {
    double setpoint = 0;
    circuit::Bounds band;
    double from_voltage = 0;
    std::optional<StoredCharge> from;  // where it has to come down
    Instant since;
    std::optional<Instant> settled;
    bool starved = false;  // remote sense ran out of headroom: that has its own finding
    Doing doing;
  };
  [[nodiscard]] const circuit::Signal& measured_in(const circuit::Piece& piece) const;
  // A setpoint that has just been left, until it is known whether it stood or merely began another ramp.
  struct Left {
    Instant at;
    double had = 0;
    std::optional<SpareTime> spare;
    std::optional<MissedSetpoint> missed;
    bool above = false;
  };
  void settle_left(const Instant& now);
  void note_left();
  void judge(const circuit::Circuit& circuit, const Instant& now, bool goes_off);
  void note_spare(const SpareTime& spare);
  [[nodiscard]] MissedSetpoint missed_at(const circuit::Circuit& circuit, const Instant& now, double had,
                                         bool goes_off) const;
  void note_missed(MissedSetpoint missed, bool above);
  [[nodiscard]] std::optional<double> time_to_band(const circuit::Circuit& circuit) const;
  void note_charged(const circuit::Circuit& circuit, const Instant& now, const Doing& doing);

  std::optional<Accuracy<Volts>> accuracy_;
  bool sensed_;
  Setpoint::Wanted wanted_;
  std::optional<Standing> standing_;
  std::optional<Left> left_;
  std::optional<SpareTime> least_;
  Shortfalls shortfalls_;
};

}  // namespace rampart
