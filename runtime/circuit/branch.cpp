#include "runtime/circuit/branch.h"

#include <algorithm>
#include <cmath>

namespace rampart::circuit {
namespace {

// A level is reached when the voltage is as near to it as the solution is exact.
constexpr double kReached = 1e-9;
// Two ways to one instant differ by less, s.
constexpr double kSameTime = 1e-12;
// What has started more often than this hunts.
constexpr std::int64_t kManyStarts = 20;

class ResistorBranch final : public Branch {
 public:
  explicit ResistorBranch(double resistance) : conductance_(1 / resistance) {}
  Flow flow(double volts, const double*) const override { return {volts * conductance_, conductance_}; }

 private:
  double conductance_;
};

// One state: the voltage behind the series resistance. Without one the capacitance is the port's.
class CapacitorBranch final : public Branch {
 public:
  explicit CapacitorBranch(const Capacitor& part)
      : part_(part), leak_(part.leakage ? 1 / *part.leakage : 0), own_(part.esr > 0) {}
  std::size_t state_count() const override { return own_ ? 1 : 0; }
  void start(double* state) const override {
    if (own_) state[0] = part_.initial_voltage;
  }
  Flow flow(double volts, const double* state) const override {
    if (!own_) return {volts * leak_, leak_};
    return {(volts - state[0]) / part_.esr, 1 / part_.esr};
  }
  void rates(double volts, const double* state, double* rates) const override {
    if (own_) rates[0] = ((volts - state[0]) / part_.esr - state[0] * leak_) / part_.capacitance;
  }
  Slopes slopes(double, const double*) const override {
    if (!own_) return {};
    const double conductance = 1 / part_.esr;
    return {-conductance, conductance / part_.capacitance, -(conductance + leak_) / part_.capacitance};
  }
  double flow_rate(double, double volts_rate, const double*, const double* rates) const override {
    return own_ ? (volts_rate - rates[0]) / part_.esr : volts_rate * leak_;
  }
  double port_capacitance() const override { return own_ ? 0 : part_.capacitance; }
  double port_voltage() const override { return part_.initial_voltage; }
  double held(double volts, const double* state) const override { return own_ ? state[0] : volts; }
  double stored(const double* state) const override { return own_ ? part_.capacitance * state[0] * state[0] / 2 : 0; }
  double stored_slope(const double* state) const override { return own_ ? part_.capacitance * state[0] : 0; }
  double loss(double volts, const double* state) const override {
    if (!own_) return volts * volts * leak_;
    const double across = volts - state[0];
    return across * across / part_.esr + state[0] * state[0] * leak_;
  }

 private:
  Capacitor part_;
  double leak_;
  bool own_;
};

class InductorBranch final : public Branch {
 public:
  explicit InductorBranch(const Inductor& part) : part_(part) {}
  std::size_t state_count() const override { return 1; }
  void start(double* state) const override { state[0] = part_.initial_current; }
  Flow flow(double, const double* state) const override { return {state[0], 0}; }
  void rates(double volts, const double* state, double* rates) const override {
    rates[0] = (volts - part_.resistance * state[0]) / part_.inductance;
  }
  Slopes slopes(double, const double*) const override {
    return {1, 1 / part_.inductance, -part_.resistance / part_.inductance};
  }
  double flow_rate(double, double, const double*, const double* rates) const override { return rates[0]; }
  double held(double, const double* state) const override { return state[0]; }
  double stored(const double* state) const override { return part_.inductance * state[0] * state[0] / 2; }
  double stored_slope(const double* state) const override { return part_.inductance * state[0]; }
  double loss(double, const double* state) const override { return part_.resistance * state[0] * state[0]; }
  bool is_inductor() const override { return true; }

 private:
  Inductor part_;
};

class SourceBranch final : public Branch {
 public:
  explicit SourceBranch(const Source& part) : part_(part) {}
  Flow flow(double volts, const double*) const override {
    return {(volts - part_.voltage) / part_.resistance, 1 / part_.resistance};
  }

 private:
  Source part_;
};

// From nothing at `from` straight up to `current` a knee later.
Flow step_flow(double current, double from, double volts) {
  const double share = (volts - from) / kKneeVolts;
  if (share <= 0 || current == 0) return {0, 0};
  if (share >= 1) return {current, 0};
  return {current * share, current / kKneeVolts};
}

class ConstantCurrentBranch final : public Branch {
 public:
  ConstantCurrentBranch(double current, double from) : current_(current), from_(from) {}
  Flow flow(double volts, const double*) const override { return step_flow(current_, from_, volts); }
  std::vector<double> corners() const override { return {from_, from_ + kKneeVolts}; }

 private:
  double current_;
  double from_;
};

// One state while there is a soft start: the share of the power it has reached.
class ConstantPowerBranch final : public Branch {
 public:
  explicit ConstantPowerBranch(const Converter& part) : part_(part) {}
  std::size_t state_count() const override { return part_.soft_start > 0 ? 1 : 0; }
  void start(double* state) const override {
    if (part_.soft_start > 0) state[0] = 0;
  }
  Flow flow(double volts, const double* state) const override {
    Flow result = step_flow(part_.quiescent_current, 0, volts);
    if (!running_) return result;
    // Where its clock is not followed, the soft start just ends.
    const double power = part_.soft_start > 0 ? part_.power * std::min(state[0], 1.0) : part_.power;
    // It has stopped long before; only trial steps of the solver come here.
    const double least = part_.stops_at / 2;
    if (volts <= least) {
      result.current += power * volts / (least * least);
      result.slope += power / (least * least);
    } else {
      result.current += power / volts;
      result.slope -= power / (volts * volts);
    }
    return result;
  }
  void rates(double, const double*, double* rates) const override {
    if (part_.soft_start > 0) rates[0] = running_ && rising_ ? 1 / part_.soft_start : 0;
  }
  Slopes slopes(double volts, const double* state) const override {
    if (!running_ || part_.soft_start == 0 || state[0] > 1) return {};
    const double least = part_.stops_at / 2;
    return {volts <= least ? part_.power * volts / (least * least) : part_.power / volts, 0, 0};
  }
  double flow_rate(double volts, double volts_rate, const double* state, const double* rates) const override {
    const double by_voltage = flow(volts, state).slope * volts_rate;
    if (!running_ || part_.soft_start == 0 || state[0] >= 1) return by_voltage;
    return by_voltage + part_.power * rates[0] / std::max(volts, part_.stops_at / 2);
  }
  double port_capacitance() const override { return part_.input_capacitance; }
  double port_voltage() const override { return part_.initial_voltage; }
  std::vector<double> corners() const override {
    if (part_.quiescent_current == 0) return {};
    return {0, kKneeVolts};
  }
  std::optional<Edge> edge() const override {
    if (running_) return Edge{part_.stops_at, false};
    return Edge{part_.starts_at, true};
  }
  bool switch_at(double volts, double* state) override {
    const bool next = running_ ? volts > part_.stops_at * (1 + kReached) : volts >= part_.starts_at * (1 - kReached);
    if (next != running_) {
      running_ = next;
      if (next) ++starts_;
      rising_ = next && part_.soft_start > 0;
      left_ = part_.soft_start;
      if (part_.soft_start > 0) state[0] = 0;
      return true;
    }
    if (!rising_ || left_ > kSameTime) return false;
    rising_ = false;
    state[0] = 1;
    return true;
  }
  double next_change() const override { return rising_ ? left_ : Branch::next_change(); }
  void pass_time(double seconds) override {
    if (rising_) left_ -= seconds;
  }
  void stand_still(double* state) override {
    if (starts_ <= kManyStarts) return;
    running_ = rising_ = false;
    if (part_.soft_start > 0) state[0] = 0;
  }
  void add_to(Snapshot& snapshot) const override {
    snapshot.rest += running_ ? rising_ ? 'u' : 'r' : '-';
    snapshot.numbers.push_back(rising_ ? left_ : 0);
    snapshot.scales.push_back(part_.soft_start);
  }

 private:
  Converter part_;
  bool running_ = false;
  bool rising_ = false;
  double left_ = 0;  // of the soft start, s
  std::int64_t starts_ = 0;
};

class DiodeBranch final : public Branch {
 public:
  explicit DiodeBranch(const DiodeString& part) : part_(part) {}
  Flow flow(double volts, const double*) const override {
    if (part_.series_resistance == 0) return junction(volts);
    const double across = junction_voltage(volts);
    Flow result = junction(across);
    if (across > 0) result.current = (volts - across) / part_.series_resistance;
    result.slope = result.slope / (1 + part_.series_resistance * result.slope);
    return result;
  }

 private:
  // Currents beyond this are only met in trial steps; the exponential goes on straight there.
  static constexpr double kSteepest = 300;

  Flow junction(double volts) const {
    const double share = volts / part_.scale;
    const double grown = std::expm1(std::min(share, kSteepest));
    const double slope = part_.saturation_current * (grown + 1) / part_.scale;
    const double current = part_.saturation_current * grown;
    if (share <= kSteepest) return {current, slope};
    return {current + slope * (volts - kSteepest * part_.scale), slope};
  }

  // w + R i(w) = volts. The left side is convex, so Newton's method from above the root comes down without a bracket.
  double junction_voltage(double volts) const {
    const double resistance = part_.series_resistance;
    double across = volts;
    if (volts > 0) {
      const double by_resistance = part_.scale * std::log1p(volts / (resistance * part_.saturation_current));
      across = std::min(volts, by_resistance);
    }
    for (int step = 0; step < 100; ++step) {
      const Flow flow = junction(across);
      const double change = (across + resistance * flow.current - volts) / (1 + resistance * flow.slope);
      across -= change;
      if (std::abs(change) <= 1e-15 * (std::abs(across) + part_.scale)) break;
    }
    return across;
  }

  DiodeString part_;
};

// One state: the temperature over the cold one.
class LampBranch final : public Branch {
 public:
  explicit LampBranch(const Filament& part) : part_(part) {
    const double hot = part.rated_voltage * part.rated_voltage / part.rated_power;
    const double rise = std::pow(hot / part.cold_resistance, 1 / part.exponent);
    radiation_ = part.rated_power / (std::pow(rise, 4) - 1);
  }
  std::size_t state_count() const override { return 1; }
  void start(double* state) const override { state[0] = 1; }
  Flow flow(double volts, const double* state) const override {
    const double conductance = 1 / resistance(state[0]);
    return {volts * conductance, conductance};
  }
  void rates(double volts, const double* state, double* rates) const override {
    const double squared = state[0] * state[0];
    const double heat = volts * volts / resistance(state[0]) - radiation_ * (squared * squared - 1);
    rates[0] = heat / (part_.heat_capacity * part_.cold_temperature);
  }
  Slopes slopes(double volts, const double* state) const override {
    const double temperature = std::max(state[0], kColdest);
    const double conductance = 1 / resistance(temperature);
    // How the conductance falls with the temperature.
    const double fall = state[0] > kColdest ? part_.exponent * conductance / temperature : 0;
    const double capacity = part_.heat_capacity * part_.cold_temperature;
    const double radiated = 4 * radiation_ * state[0] * state[0] * state[0];
    return {-volts * fall, 2 * volts * conductance / capacity, -(volts * volts * fall + radiated) / capacity};
  }
  double flow_rate(double volts, double volts_rate, const double* state, const double* rates) const override {
    const double warming = part_.exponent * rates[0] / state[0];
    return (volts_rate - volts * warming) / resistance(state[0]);
  }

 private:
  double resistance(double temperature) const {
    return part_.cold_resistance * std::pow(std::max(temperature, kColdest), part_.exponent);
  }
  // Only trial steps of the solver go below.
  static constexpr double kColdest = 0.1;

  Filament part_;
  double radiation_ = 0;  // k T0^4, W
};

class CurveBranch final : public Branch {
 public:
  explicit CurveBranch(std::vector<std::pair<double, double>> points) : points_(std::move(points)) {}
  Flow flow(double volts, const double*) const override {
    std::size_t next = 1;
    while (next + 1 < points_.size() && volts > points_[next].first) ++next;
    const auto& [v0, i0] = points_[next - 1];
    const auto& [v1, i1] = points_[next];
    const double slope = (i1 - i0) / (v1 - v0);
    return {i0 + slope * (volts - v0), slope};
  }
  std::vector<double> corners() const override {
    std::vector<double> result;
    for (std::size_t i = 1; i + 1 < points_.size(); ++i) result.push_back(points_[i].first);
    return result;
  }

 private:
  std::vector<std::pair<double, double>> points_;
};

class PulsedBranch final : public Branch {
 public:
  explicit PulsedBranch(const Pulses& part) : part_(part), left_(part.on) {}
  Flow flow(double volts, const double*) const override {
    const double share = is_mean_ ? part_.on / part_.period : on_ ? 1 : 0;
    return step_flow(part_.rest + share * (part_.current - part_.rest), part_.from, volts);
  }
  std::vector<double> corners() const override { return {part_.from, part_.from + kKneeVolts}; }
  bool switch_at(double, double*) override {
    if (left_ > kSameTime) return false;
    if (part_.period > part_.on) on_ = !on_;
    left_ += on_ ? part_.on : part_.period - part_.on;
    return true;
  }
  double next_change() const override { return std::max(left_, 0.0); }
  std::optional<double> period() const override { return part_.period; }
  void pass_time(double seconds) override { left_ -= seconds; }
  void stand_still(double*) override { is_mean_ = true; }
  void go_on() override { is_mean_ = false; }
  void add_to(Snapshot& snapshot) const override {
    snapshot.rest += is_mean_ ? 'm' : on_ ? 'p' : '-';
    snapshot.numbers.push_back(left_);
    // The clock has gone through many pulses, each with its rounding.
    snapshot.scales.push_back(100 * part_.period);
  }

 private:
  Pulses part_;
  bool on_ = true;
  bool is_mean_ = false;  // it draws the mean of its pulses
  double left_;           // s until it changes
};

class LoadProfileBranch final : public Branch {
 public:
  // What it draws pulls its own voltage down: power counts as lost this far below the level only. Common practice, no
  // source.
  static constexpr double kLostShare = 0.9;

  explicit LoadProfileBranch(Draws part) : part_(std::move(part)) {}
  Flow flow(double volts, const double*) const override {
    return step_flow(good_ && next_ > 0 ? part_.steps[next_ - 1].second : 0, 0, volts);
  }
  double port_capacitance() const override { return part_.input_capacitance; }
  std::vector<double> corners() const override { return {0, kKneeVolts}; }
  std::optional<Edge> edge() const override {
    if (good_) return Edge{kLostShare * part_.power_good, false};
    return Edge{part_.power_good, true};
  }
  bool switch_at(double volts, double*) override {
    const bool good =
        good_ ? volts > kLostShare * part_.power_good * (1 + kReached) : volts >= part_.power_good * (1 - kReached);
    const bool changed = good != good_;
    if (changed) {
      good_ = good;
      if (good) ++starts_;
      next_ = 0;
      left_ = good ? part_.steps.front().first : 0;
    }
    const std::size_t before = next_;
    while (good_ && next_ < part_.steps.size() && left_ <= kSameTime) {
      ++next_;
      if (next_ < part_.steps.size()) left_ += part_.steps[next_].first - part_.steps[next_ - 1].first;
    }
    return changed || next_ != before;
  }
  double next_change() const override {
    return good_ && next_ < part_.steps.size() ? std::max(left_, 0.0) : Branch::next_change();
  }
  void pass_time(double seconds) override {
    if (good_ && next_ < part_.steps.size()) left_ -= seconds;
  }
  void stand_still(double*) override {
    if (starts_ > kManyStarts) good_ = false;
  }
  void add_to(Snapshot& snapshot) const override {
    snapshot.rest += good_ ? 'g' + std::to_string(next_) : "-";
    snapshot.numbers.push_back(good_ && next_ < part_.steps.size() ? left_ : 0);
    snapshot.scales.push_back(1e-3);
  }

 private:
  Draws part_;
  bool good_ = false;
  std::size_t next_ = 0;  // of the steps still to come
  double left_ = 0;       // s until it does
  std::int64_t starts_ = 0;
};

}  // namespace

std::unique_ptr<Branch> resistor_branch(const Resistor& resistor) {
  return std::make_unique<ResistorBranch>(resistor.resistance);
}
std::unique_ptr<Branch> capacitor_branch(const Capacitor& capacitor) {
  return std::make_unique<CapacitorBranch>(capacitor);
}
std::unique_ptr<Branch> inductor_branch(const Inductor& inductor) {
  return std::make_unique<InductorBranch>(inductor);
}
std::unique_ptr<Branch> source_branch(const Source& source) {
  return std::make_unique<SourceBranch>(source);
}
std::unique_ptr<Branch> constant_current_branch(double current, double from) {
  return std::make_unique<ConstantCurrentBranch>(current, from);
}
std::unique_ptr<Branch> constant_power_branch(const Converter& converter) {
  return std::make_unique<ConstantPowerBranch>(converter);
}
std::unique_ptr<Branch> diode_branch(const DiodeString& diodes) {
  return std::make_unique<DiodeBranch>(diodes);
}
std::unique_ptr<Branch> lamp_branch(const Filament& filament) {
  return std::make_unique<LampBranch>(filament);
}
std::unique_ptr<Branch> curve_branch(std::vector<std::pair<double, double>> points) {
  return std::make_unique<CurveBranch>(std::move(points));
}
std::unique_ptr<Branch> pulsed_branch(const Pulses& pulses) {
  return std::make_unique<PulsedBranch>(pulses);
}
std::unique_ptr<Branch> load_profile_branch(Draws draws) {
  return std::make_unique<LoadProfileBranch>(std::move(draws));
}

}  // namespace rampart::circuit
