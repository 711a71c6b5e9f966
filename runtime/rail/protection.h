#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "compiler/profile/profile.h"
#include "lang/values/instant.h"
#include "runtime/answer/simulation.h"
#include "runtime/circuit/circuit.h"
#include "runtime/rail/deviation.h"

// The protections of one rail: conditions on what the output does, and how long each has held without a break.
namespace rampart {

// What a rail is doing, for the answer.
struct Doing {
  Span statement;
  Passes passes;
};

// How much later passes of the loop that lies `depth` loops deep are.
struct PassShift {
  std::size_t depth = 0;
  std::int64_t by = 0;

  void apply(Passes& passes) const {
    if (passes.size() > depth) passes[depth] += by;
  }
};

// A condition that trips once it has held for its delay.
class DelayedTrip {
 public:
  // One that does not act is watched all the same.
  DelayedTrip(TripCause cause, double delay, bool acts = true) : cause_(cause), delay_(delay), acts_(acts) {}

  void update(bool holds, const Instant& now, const Doing& doing);
  [[nodiscard]] bool holds() const { return holds_; }
  [[nodiscard]] TripCause cause() const { return cause_; }
  [[nodiscard]] double delay() const { return delay_; }
  // How long it has held until now; 0 while it does not.
  [[nodiscard]] double held(const Instant& now) const { return holds_ ? now.since(since_) : 0; }
  // Whether it trips at all.
  [[nodiscard]] bool acts() const { return acts_; }
  // True once the delay is over.
  [[nodiscard]] bool due(const Instant& now) const;
  // The longest time it has held.
  [[nodiscard]] const Peak& longest() const { return longest_; }
  // Remembers how long it has held until now.
  void note(const Instant& now, const Doing& doing);
  // The same condition, as if its beginning were later.
  void shift(const Instant& by) { since_ = since_.plus(by); }
  // Goes on as another would, `by` later; the longest time is its own.
  void continue_as(const DelayedTrip& other, const Instant& by) {
    holds_ = other.holds_;
    since_ = other.since_.plus(by);
  }

 private:
  TripCause cause_;
  double delay_;
  bool acts_;
  bool holds_ = false;
  Instant since_;
  Peak longest_;
};

class RailProtection {
 public:
  RailProtection(const Protection& protection, const RailDeviation& deviation);

  // Reads the conditions at the start of the planned piece. What can not be told from equality is decided by where it
  // is heading, and where it stays, by what it was.
  void update(const circuit::Circuit& circuit, const Instant& now, const Doing& doing);
  // The protection that acts now, after update().
  [[nodiscard]] std::optional<TripCause> acts(const Instant& now) const;
  // How long, up to the length of the planned piece, until a condition may change or a delay is over.
  [[nodiscard]] double quiet_time(const circuit::Circuit& circuit, const Instant& now);
  // Tells that the circuit has advanced by `length` since quiet_time().
  void advanced(double length);
  // What is behind the terminals has jumped: conditions are read anew.
  void forget_course();
  // The output is off: no condition holds.
  void clear(const Instant& now, const Doing& doing);
  void shift(const Instant& by);
  // All that its coming time depends on besides the circuit.
  void add_memory(const Instant& now, std::vector<double>& memory) const;
  // Goes on as another would, `by` later.
  void continue_as(const RailProtection& other, const Instant& by);

  [[nodiscard]] const std::optional<DelayedTrip>& fuse() const { return fuse_; }
  [[nodiscard]] const std::optional<DelayedTrip>& overpower() const { return overpower_; }
  [[nodiscard]] std::optional<double> overvoltage_level() const { return overvoltage_; }
  [[nodiscard]] double overpower_level() const { return power_; }
  void note(const Instant& now, const Doing& doing);

 private:
  // A curve that is above zero while a condition holds.
  struct Condition {
    std::unique_ptr<circuit::Curve> curve;
    double noise = 0;
  };
  [[nodiscard]] Condition fuse_condition(const circuit::Circuit& circuit) const;
  [[nodiscard]] Condition overpower_condition(const circuit::Circuit& circuit) const;
  [[nodiscard]] Condition overvoltage_condition(const circuit::Circuit& circuit) const;

  std::optional<DelayedTrip> fuse_;
  std::optional<double> fuse_current_;
  std::optional<DelayedTrip> overpower_;
  double power_ = 0;
  std::optional<double> overvoltage_;
  bool over_voltage_ = false;
  bool far_from_power_ = false;  // for the whole of the planned piece
  bool far_from_voltage_ = false;

  // When each condition changes in the planned piece, s from its start; what it is taken for at the next update.
  double fuse_change_ = 0;
  double overpower_change_ = 0;
  double overvoltage_change_ = 0;
  std::optional<bool> fuse_next_;
  std::optional<bool> overpower_next_;
  std::optional<bool> overvoltage_next_;
};

}  // namespace rampart
