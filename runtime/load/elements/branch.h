#pragma once

#include <algorithm>
#include <cstddef>
#include <limits>
#include <memory>
#include <optional>
#include <vector>

// An element's equations: what flows into it at the port's voltage. How they are solved is no matter of an element.
namespace rampart::circuit {

// A current that starts at a voltage rises to its value within this much above it: a step would leave the current
// undefined where the voltage stays at it.
inline constexpr double kKneeVolts = 1e-3;
// A level is reached when the voltage is as near to it as the solution is exact, relative.
inline constexpr double kReached = 1e-9;
// A clock has run out when less than this is left, s.
inline constexpr double kSameTime = 1e-12;
// What has started more often than this hunts.
inline constexpr int kManyStarts = 20;

struct Flow {
  double current = 0;  // A into the branch
  double slope = 0;    // by the voltage, A/V
};

// From nothing at `from` straight up to `current` a knee later.
[[nodiscard]] inline Flow step_flow(double current, double from, double volts) {
  const double share = (volts - from) / kKneeVolts;
  if (share <= 0 || current == 0) return {0, 0};
  if (share >= 1) return {current, 0};
  return {current * share, current / kKneeVolts};
}

// Derivatives of a branch's current and of its state, of which it has one at most.
struct Slopes {
  double flow_by_state = 0;
  double rate_by_volts = 0;
  double rate_by_state = 0;
};

// The voltage of the port at which a branch switches.
struct Edge {
  double level = 0;
  bool rising = false;
};

// What a branch remembers beside its state: which of its ways it follows, and how much of a clock is left.
struct Memory {
  std::size_t way = 0;
  double left = 0;   // s
  double scale = 0;  // what rounding of that is measured against
};

class Branch {
 public:
  virtual ~Branch() = default;

  // Its own state, if any; temperatures and the like are scaled to be near 1.
  [[nodiscard]] virtual std::size_t state_count() const { return 0; }
  virtual void start(double* /*state*/) const {}
  [[nodiscard]] virtual Flow flow(double volts, const double* state) const = 0;
  virtual void rates(double /*volts*/, const double* /*state*/, double* /*rates*/) const {}
  [[nodiscard]] virtual Slopes slopes(double /*volts*/, const double* /*state*/) const { return {}; }
  // How fast its current changes, A/s, while the voltage does so at `volts_rate` and its states at `rates`.
  [[nodiscard]] virtual double flow_rate(double volts, double volts_rate, const double* state,
                                         const double* /*rates*/) const {
    return flow(volts, state).slope * volts_rate;
  }
  // The voltage of its capacitance, the current of its inductance.
  [[nodiscard]] virtual double held(double volts, const double* /*state*/) const { return volts; }
  // A capacitance that sits at the port itself, and what it is charged to at first.
  [[nodiscard]] virtual double port_capacitance() const { return 0; }
  [[nodiscard]] virtual double port_voltage() const { return 0; }
  // J in its own state, and the derivative of that by the state.
  [[nodiscard]] virtual double stored(const double* /*state*/) const { return 0; }
  [[nodiscard]] virtual double stored_slope(const double* /*state*/) const { return 0; }
  // Power turned to heat or used, W.
  [[nodiscard]] virtual double loss(double volts, const double* state) const {
    return volts * flow(volts, state).current;
  }
  [[nodiscard]] virtual bool is_inductor() const { return false; }

  // Voltages at which the slope of the flow jumps.
  [[nodiscard]] virtual std::vector<double> corners() const { return {}; }
  [[nodiscard]] virtual std::optional<Edge> edge() const { return std::nullopt; }
  // Switches where this voltage, or a clock that has run out, asks for it. True if it did.
  virtual bool switch_at(double /*volts*/, double* /*state*/) { return false; }
  // Whether it runs now; nothing of what neither starts nor stops.
  [[nodiscard]] virtual std::optional<bool> runs() const { return std::nullopt; }
  // s until its clock makes it switch.
  [[nodiscard]] virtual double next_change() const { return std::numeric_limits<double>::infinity(); }
  // Of a clock that never stops, s.
  [[nodiscard]] virtual std::optional<double> period() const { return std::nullopt; }
  virtual void pass_time(double /*seconds*/) {}
  // It switches no more until go_on(). One that has started again and again stays off, pulses become their mean, any
  // other stays as it is.
  virtual void stand_still(double* /*state*/) {}
  virtual void go_on() {}
  [[nodiscard]] virtual std::optional<Memory> memory() const { return std::nullopt; }
  [[nodiscard]] virtual std::unique_ptr<Branch> copy() const = 0;
};

// What a class of branches is derived from, which gives it copy().
template <class Own>
class BranchOf : public Branch {
 public:
  [[nodiscard]] std::unique_ptr<Branch> copy() const final {
    return std::make_unique<Own>(static_cast<const Own&>(*this));
  }
};

}  // namespace rampart::circuit
