#pragma once

#include <limits>
#include <memory>
#include <optional>
#include <vector>

#include "runtime/circuit/circuit.h"

// The parts of a load of any kind, as what flows into them at the port's voltage.
namespace rampart::circuit {

// A current that starts at a voltage rises to its value within this much above it: a step would leave the current
// undefined where the voltage stays at it.
inline constexpr double kKneeVolts = 1e-3;

struct Flow {
  double current = 0;  // A into the branch
  double slope = 0;    // by the voltage, A/V
};

// How a branch answers to its own state, of which it has one at most, and that state to the port's voltage.
struct Slopes {
  double flow_by_state = 0;
  double rate_by_volts = 0;
  double rate_by_state = 0;
};

// The voltage of the port at which a branch changes its way.
struct Edge {
  double level = 0;
  bool rising = false;
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
  // What it holds: the voltage of its capacitance, the current of an inductor.
  [[nodiscard]] virtual double held(double volts, const double* /*state*/) const { return volts; }
  // A capacitance that sits at the port itself, and what it is charged to at first.
  [[nodiscard]] virtual double port_capacitance() const { return 0; }
  [[nodiscard]] virtual double port_voltage() const { return 0; }
  [[nodiscard]] virtual double stored(const double* /*state*/) const { return 0; }
  // How much more that is for more of the state.
  [[nodiscard]] virtual double stored_slope(const double* /*state*/) const { return 0; }
  // Power turned to heat or used, W.
  [[nodiscard]] virtual double loss(double volts, const double* state) const {
    return volts * flow(volts, state).current;
  }
  [[nodiscard]] virtual bool is_inductor() const { return false; }

  // Voltages at which the slope of the flow jumps.
  [[nodiscard]] virtual std::vector<double> corners() const { return {}; }
  [[nodiscard]] virtual std::optional<Edge> edge() const { return std::nullopt; }
  // Takes the way that fits this voltage, and a change that time has brought. True if it is another than before.
  virtual bool switch_at(double /*volts*/, double* /*state*/) { return false; }
  // s until time alone brings a change.
  [[nodiscard]] virtual double next_change() const { return std::numeric_limits<double>::infinity(); }
  // Where time alone makes it do the same again and again, s.
  [[nodiscard]] virtual std::optional<double> period() const { return std::nullopt; }
  virtual void pass_time(double /*seconds*/) {}
  // It switches no more until it goes on. One that has switched on and off again and again stays off, pulses become
  // their mean, any other stays as it is.
  virtual void stand_still(double* /*state*/) {}
  virtual void go_on() {}
  virtual void add_to(Snapshot& /*snapshot*/) const {}
};

[[nodiscard]] std::unique_ptr<Branch> resistor_branch(const Resistor& resistor);
[[nodiscard]] std::unique_ptr<Branch> capacitor_branch(const Capacitor& capacitor);
[[nodiscard]] std::unique_ptr<Branch> inductor_branch(const Inductor& inductor);
[[nodiscard]] std::unique_ptr<Branch> source_branch(const Source& source);

// Draws `current` from the voltage `from` on.
[[nodiscard]] std::unique_ptr<Branch> constant_current_branch(double current, double from);

struct Converter {
  double power = 0;
  double starts_at = 0;
  double stops_at = 0;
  double input_capacitance = 0;
  double initial_voltage = 0;
  double soft_start = 0;
  double quiescent_current = 0;
};
// Takes the same power at every voltage while it runs: starts at `starts_at`, stops at `stops_at`.
[[nodiscard]] std::unique_ptr<Branch> constant_power_branch(const Converter& converter);

struct DiodeString {
  double saturation_current = 0;
  double scale = 0;  // V: in_series * ideality * k T / q
  double series_resistance = 0;
};
// i = I_s (exp((v - i R) / scale) - 1), Shockley's equation.
[[nodiscard]] std::unique_ptr<Branch> diode_branch(const DiodeString& diodes);

struct Filament {
  double rated_voltage = 0;
  double rated_power = 0;
  double cold_resistance = 0;
  double heat_capacity = 0;
  double cold_temperature = 300;
  double exponent = 1.2;
};
// R = R0 (T/T0)^exponent, C dT/dt = v i - k (T^4 - T0^4) with k from the rated point.
[[nodiscard]] std::unique_ptr<Branch> lamp_branch(const Filament& filament);

// Straight lines between points of rising voltage; the first and last go on straight.
[[nodiscard]] std::unique_ptr<Branch> curve_branch(std::vector<std::pair<double, double>> points);

struct Pulses {
  double current = 0;
  double on = 0;
  double period = 0;
  double from = 0;
  double rest = 0;
};
// The first pulse begins with the run.
[[nodiscard]] std::unique_ptr<Branch> pulsed_branch(const Pulses& pulses);

struct Draws {
  double power_good = 0;
  std::vector<std::pair<double, double>> steps;  // s since power-good, A from then on
  double input_capacitance = 0;
};
// Draws by the clock that starts when the voltage reaches power_good, and nothing below it.
[[nodiscard]] std::unique_ptr<Branch> load_profile_branch(Draws draws);

}  // namespace rampart::circuit
