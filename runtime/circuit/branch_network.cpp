#include "runtime/circuit/branch_network.h"

#include <algorithm>
#include <cmath>

namespace rampart::circuit {
namespace {

// Of a voltage: steps of Newton's method that are rounding alone.
constexpr double kRoundingSteps = 1e-13;
// Of a sum of currents: the rounding of its terms.
constexpr double kSumRounding = 2e-16;
// Of a rate that is a difference of currents: the rounding of its terms.
constexpr double kRateRounding = 1e-15;
// What leaks across a load with a coil and nothing that holds its voltage, S. Without it a coil at the current limit
// beside a load that does not conduct would leave the voltage undefined.
constexpr double kStrayConductance = 1e-9;
// a share of the piece that is never reached
constexpr double kMostVolts = 1e6;
constexpr double kNoVolts = 1e-15;
constexpr int kQuickSteps = 6;

std::size_t count_states(const BranchParts& parts) {
  std::size_t count = 0;
  double port = parts.wire == 0 ? parts.output_capacitance : 0;
  for (const auto& branch : parts.branches) {
    count += branch->state_count();
    port += branch->port_capacitance();
  }
  if (port > 0) ++count;
  if (parts.wire > 0 && parts.output_capacitance > 0) ++count;
  return count;
}

}  // namespace

BranchNetwork::BranchNetwork(BranchParts parts, bool has_sense)
    : parts_(std::move(parts)), is_sensed_(has_sense && parts_.wire > 0), count_(count_states(parts_)) {
  std::size_t next = 0;
  for (const auto& branch : parts_.branches) {
    offsets_.push_back(next);
    next += branch->state_count();
    port_capacitance_ += branch->port_capacitance();
    has_inductors_ = has_inductors_ || branch->is_inductor();
    for (const double corner : branch->corners()) corners_.push_back(corner);
  }
  if (port_capacitance_ + (parts_.wire == 0 ? parts_.output_capacitance : 0) > 0) port_index_ = next++;
  if (parts_.wire > 0 && parts_.output_capacitance > 0) terminal_index_ = next++;
  if (has_inductors_ && !port_index_) stray_ = kStrayConductance;
  std::sort(corners_.begin(), corners_.end());
  corners_.erase(std::unique(corners_.begin(), corners_.end()), corners_.end());
}

std::vector<double> BranchNetwork::first_states() const {
  std::vector<double> states(count_ + 1, 0.0);
  const double held = parts_.wire == 0 ? parts_.output_capacitance : 0;
  double charge = held * parts_.output_voltage;
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    parts_.branches[i]->start(states.data() + offsets_[i]);
    charge += parts_.branches[i]->port_capacitance() * parts_.branches[i]->port_voltage();
  }
  if (port_index_) states[*port_index_] = charge / (port_capacitance_ + held);
  if (terminal_index_) states[*terminal_index_] = parts_.output_voltage;
  return states;
}

Flow BranchNetwork::flow(double volts, const double* state) const {
  Flow sum{volts * stray_, stray_};
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    const Flow one = parts_.branches[i]->flow(volts, own(state, i));
    sum.current += one.current;
    sum.slope += one.slope;
  }
  return sum;
}

double BranchNetwork::flow_rate(double volts, double volts_rate, const double* state) const {
  double sum = volts_rate * stray_;
  std::vector<double> rates(count_);
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    double* const own_rates = rates.data() + offsets_[i];
    parts_.branches[i]->rates(volts, own(state, i), own_rates);
    sum += parts_.branches[i]->flow_rate(volts, volts_rate, own(state, i), own_rates);
  }
  return sum;
}

double BranchNetwork::flow_rate_noise(double volts, const double* state) const {
  double sum = 0;
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    if (parts_.branches[i]->state_count() == 0) continue;
    const double* const held = own(state, i);
    const Slopes slopes = parts_.branches[i]->slopes(volts, held);
    sum += std::abs(slopes.flow_by_state) *
           (std::abs(slopes.rate_by_state * *held) + std::abs(slopes.rate_by_volts * volts));
  }
  return kRateRounding * sum;
}

// Where the load takes less than the limit by no more than rounding, the output still does not rise far above its
// setpoint: as far as ends the mode. A coil's voltage is its own.
double BranchNetwork::untaken_voltage(double current, double highest) const {
  if (has_inductors_) return kMostVolts;
  const double past = highest + 10 * kTie * std::max(highest, 1.0);
  return is_sensed_ ? past : past - parts_.wire * current;
}

// Likewise where the load gives more than the output lets in. Only what drives a current can.
double BranchNetwork::ungiven_voltage() const {
  return has_inductors_ ? -kMostVolts : 0;
}

double BranchNetwork::solve_port(double current, double conductance, double highest, const double* state,
                                 double& guess) const {
  const auto excess = [&](double volts) {
    Flow result = flow(volts, state);
    result.current += conductance * volts - current;
    result.slope += conductance;
    return result;
  };
  // Most often the voltage has moved on a little since it was last looked for.
  double near = guess;
  for (int step = 0; step < kQuickSteps; ++step) {
    const Flow at = excess(near);
    const double change = at.current / at.slope;
    if (!(at.slope > 0) || !std::isfinite(change)) break;
    if (std::abs(change) <= 1e-15 * std::abs(near) ||
        std::abs(at.current) <= kSumRounding * (std::abs(current) + std::abs(conductance * near))) {
      guess = near;
      return near;
    }
    near -= change;
  }
  const Flow at_zero = excess(0);
  if (at_zero.current == 0) return 0;
  // What fades away is nothing long before it is zero, and a search for it would halve its bracket without end.
  if (std::abs(at_zero.current) <= kNoVolts * at_zero.slope) return -at_zero.current / at_zero.slope;
  const double direction = at_zero.current > 0 ? -1 : 1;
  double inner = 0;
  Flow at_inner = at_zero;
  double outer = direction * std::max(std::abs(guess) * (1 + 1e-6), 1e-3);
  for (Flow at = excess(outer); at.current * direction < 0; at = excess(outer)) {
    inner = outer;
    at_inner = at;
    outer *= 4;
    // Nothing takes that current: the caller's mode will not last.
    if (std::abs(outer) > kMostVolts) return direction > 0 ? untaken_voltage(current, highest) : ungiven_voltage();
  }
  double low = std::min(inner, outer);
  double high = std::max(inner, outer);
  // A voltage that has moved on a little is near the guess, and not in the middle of the bracket.
  double volts = guess > low && guess < high ? guess : inner - at_inner.current / at_inner.slope;
  if (!(volts > low && volts < high)) volts = (low + high) / 2;
  double before = high - low;
  // Where a coil takes nearly all of a current, what is left for the others is no more exact than the whole.
  const double size = std::abs(current) + std::abs(at_zero.current);
  for (int step = 0; step < 200; ++step) {
    const Flow at = excess(volts);
    if (std::abs(at.current) <= kSumRounding * (size + std::abs(conductance * volts))) break;
    (at.current > 0 ? high : low) = volts;
    double next = at.slope > 0 ? volts - at.current / at.slope : low;
    const double change = std::abs(next - volts);
    const bool shrinks = change <= before / 2;
    if (at.slope > 0 && change <= (shrinks ? 1e-15 : kRoundingSteps) * std::abs(next)) break;
    // Newton's steps crawl down an exponential, and may lead out of the bracket.
    if (!(next > low && next < high) || !shrinks) next = low + (high - low) / 2;
    if (next <= low || next >= high) break;
    before = std::abs(next - volts);
    volts = next;
  }
  guess = volts;
  return volts;
}

NetworkPoint BranchNetwork::point(const Imposed& imposed, const double* state, double& guess) const {
  const auto& [kind, slope, highest] = imposed;
  const double drive = state[count_];
  const double wire = parts_.wire;
  const bool off = kind == Drive::Off || kind == Drive::OffShorted;
  const double off_conductance = off && parts_.off_resistance ? 1 / *parts_.off_resistance : 0;
  const double held = port_capacitance_ + (wire == 0 ? parts_.output_capacitance : 0);
  NetworkPoint result;
  const double* port = port_index_ ? state + *port_index_ : nullptr;
  const double* terminal = terminal_index_ ? state + *terminal_index_ : nullptr;

  if (kind == Drive::OffShorted) {
    result.terminal = terminal != nullptr ? *terminal : 0;
    result.wire_current = wire > 0 ? result.terminal / wire : 0;
    if (terminal != nullptr) {
      result.terminal_rate = -(result.terminal * off_conductance + result.wire_current) / parts_.output_capacitance;
    }
    return result;
  }
  if (kind == Drive::WireCurrent) {
    const double ahead = wire * drive;
    result.port = port != nullptr ? *port : solve_port(drive, 0, highest, state, guess);
    const Flow taken = flow(result.port, state);
    if (port != nullptr) {
      result.port_rate = (drive - taken.current) / port_capacitance_;
    } else if (taken.slope > 0) {
      result.port_rate = -flow_rate(result.port, 0, state) / taken.slope;
    }
    result.wire_current = drive;
    result.terminal = result.port + ahead;
    result.regulator = drive + parts_.output_capacitance * result.port_rate;
    return result;
  }
  if (kind == Drive::SensedVoltage && compensates()) {
    const double following = flow(*port, state).current + port_capacitance_ * slope;
    result.port = *port;
    result.port_rate = (drive - *port) / (wire * port_capacitance_) + slope;
    result.wire_current = following + (drive - *port) / wire;
    result.terminal = drive + wire * following;
    const double terminal_slope = slope + wire * flow_rate(*port, result.port_rate, state);
    result.regulator = result.wire_current + parts_.output_capacitance * terminal_slope;
    return result;
  }
  if (kind == Drive::SensedVoltage || (kind == Drive::Voltage && wire == 0)) {
    result.port = drive;
    result.port_rate = slope;
    result.wire_current = flow(drive, state).current + port_capacitance_ * slope;
    result.terminal = drive + wire * result.wire_current;
    const double terminal_slope = terminal != nullptr ? slope + wire * flow_rate(drive, slope, state) : slope;
    result.regulator = result.wire_current + parts_.output_capacitance * terminal_slope;
    return result;
  }
  if (kind == Drive::Voltage) {
    result.port = port != nullptr ? *port : solve_port(drive / wire, 1 / wire, highest, state, guess);
    result.terminal = drive;
    result.terminal_rate = slope;
    result.wire_current = (drive - result.port) / wire;
    result.regulator = result.wire_current + parts_.output_capacitance * slope;
  } else if (terminal != nullptr) {
    result.terminal = *terminal;
    result.port = port != nullptr ? *port : solve_port(result.terminal / wire, 1 / wire, highest, state, guess);
    result.wire_current = (result.terminal - result.port) / wire;
    result.regulator = off ? 0 : drive;
    const double spare = result.regulator - off_conductance * result.terminal - result.wire_current;
    result.terminal_rate = spare / parts_.output_capacitance;
  } else {
    const double current = off ? 0 : drive;
    const double back = off_conductance / (1 + off_conductance * wire);
    result.port = port != nullptr ? *port : solve_port(current, back, highest, state, guess);
    result.wire_current = current - back * result.port;
    result.terminal = result.port + wire * result.wire_current;
    result.regulator = current;
  }
  if (port != nullptr) {
    const double into_branches = flow(result.port, state).current;
    result.port_rate = (result.wire_current - into_branches) / held;
    // Without a wire, what the output capacitance gives comes out of the terminals too.
    if (wire == 0) result.wire_current = into_branches + port_capacitance_ * result.port_rate;
  }
  return result;
}

void BranchNetwork::rates(const Imposed& imposed, const double* state, double* rates, double& guess) const {
  rates_at(point(imposed, state, guess), imposed.slope, state, rates);
}

void BranchNetwork::rates_at(const NetworkPoint& now, double slope, const double* state, double* rates) const {
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    parts_.branches[i]->rates(now.port, own(state, i), rates + offsets_[i]);
  }
  if (port_index_) rates[*port_index_] = now.port_rate;
  if (terminal_index_) rates[*terminal_index_] = now.terminal_rate;
  rates[count_] = slope;
}

double BranchNetwork::regulator_noise(Drive kind, const NetworkPoint& at, const double* state) const {
  if (!terminal_index_) return 0;
  const bool through_wire = kind == Drive::WireCurrent;
  if (kind != Drive::SensedVoltage && !through_wire) return 0;
  const double conductance = flow(at.port, state).slope;
  const double load_noise = flow_rate_noise(at.port, state);
  double port_noise = 0;  // V/s
  if (port_index_) {
    const double into_port = conductance + (through_wire ? 0 : 1 / parts_.wire);
    port_noise = kRateRounding * into_port * std::abs(at.port) / port_capacitance_;
  } else if (through_wire && conductance > 0) {
    port_noise = load_noise / conductance;
  }
  const double terminal_noise = through_wire ? port_noise : parts_.wire * (load_noise + conductance * port_noise);
  return parts_.output_capacitance * terminal_noise;
}

double BranchNetwork::corner_noise(double volts, const double* state) const {
  const double reach = kTie * std::abs(volts);
  const auto near = [&](double corner) { return std::abs(volts - corner) <= reach; };
  if (std::none_of(corners_.begin(), corners_.end(), near)) return 0;
  const double slope =
      std::max(std::abs(flow(volts - 2 * reach, state).slope), std::abs(flow(volts + 2 * reach, state).slope));
  return reach * slope;
}

}  // namespace rampart::circuit
