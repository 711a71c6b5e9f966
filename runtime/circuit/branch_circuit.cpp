#include "runtime/circuit/branch_circuit.h"

#include <algorithm>
#include <cmath>

namespace rampart::circuit {
namespace {

// Local error of a step against the state, and against 1 V, 1 A or one unit of a scaled state.
constexpr double kRelative = 1e-9;
constexpr double kAbsolute = 1e-11;
// Of a voltage: steps of Newton's method that are rounding alone.
constexpr double kRoundingSteps = 1e-13;
// Of a sum of currents: the rounding of its terms.
constexpr double kSumRounding = 2e-16;
// States that differ by less are the same: a tenth of a step's error, or passes that are alike would never agree.
constexpr double kSameState = 1e-10;
// Shorter steps are damped, s: nothing on a bench is that fast.
constexpr double kShortest = 1e-12;
// What leaks across a load with a coil and nothing that holds its voltage, S. Without it a coil at the current limit
// beside a load that does not conduct would leave the voltage undefined.
constexpr double kStrayConductance = 1e-9;
// The next step by what the last one was off: errors go by this power of the length.
constexpr double kFitOrder = 4;
constexpr double kCautious = 0.7;
constexpr double kLeastShare = 0.1;
constexpr double kMostGrowth = 4;
constexpr double kNowhere = 2;  // a share of the piece that is never reached
constexpr double kMostVolts = 1e6;
constexpr double kNoVolts = 1e-15;
constexpr int kMaxSwitches = 8;
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

// Where a signal first passes the level; `rising` says from which side.
double first_passing(const Signal& signal, double level, bool rising, double tolerance) {
  const Signal above = signal.plus_line(-level, 0);
  return first_rise(SignalCurve(rising ? above : above.times(-1)), tolerance).value_or(kNowhere);
}

}  // namespace

BranchCircuit::BranchCircuit(BranchParts parts, OutputTraits traits)
    : Circuit(traits),
      parts_(std::move(parts)),
      count_(count_states(parts_)),
      state_(count_ + 1, 0.0),
      stepper_(count_ + 1, kRelative, kAbsolute) {
  same_ = kTie;
  std::size_t next = 0;
  double charge = parts_.wire == 0 ? parts_.output_capacitance * parts_.output_voltage : 0;
  for (const auto& branch : parts_.branches) {
    offsets_.push_back(next);
    branch->start(state_.data() + next);
    next += branch->state_count();
    port_capacitance_ += branch->port_capacitance();
    charge += branch->port_capacitance() * branch->port_voltage();
    has_inductors_ = has_inductors_ || branch->is_inductor();
    for (const double corner : branch->corners()) corners_.push_back(corner);
  }
  const double held = port_capacitance_ + (parts_.wire == 0 ? parts_.output_capacitance : 0);
  if (held > 0) {
    port_index_ = next++;
    state_[*port_index_] = charge / held;
  }
  if (parts_.wire > 0 && parts_.output_capacitance > 0) {
    terminal_index_ = next++;
    state_[*terminal_index_] = parts_.output_voltage;
  }
  if (has_inductors_ && !port_index_) stray_ = kStrayConductance;
  std::sort(corners_.begin(), corners_.end());
  corners_.erase(std::unique(corners_.begin(), corners_.end()), corners_.end());
}

// ---- the network at one instant

Flow BranchCircuit::flow(double volts, const double* state) const {
  Flow sum{volts * stray_, stray_};
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    const Flow one = parts_.branches[i]->flow(volts, own(state, i));
    sum.current += one.current;
    sum.slope += one.slope;
  }
  return sum;
}

double BranchCircuit::flow_rate(double volts, double volts_rate, const double* state) const {
  double sum = volts_rate * stray_;
  std::vector<double> rates(count_);
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    double* const own_rates = rates.data() + offsets_[i];
    parts_.branches[i]->rates(volts, own(state, i), own_rates);
    sum += parts_.branches[i]->flow_rate(volts, volts_rate, own(state, i), own_rates);
  }
  return sum;
}

// Where the load takes less than the limit by no more than rounding, the output still does not rise far above its
// setpoint: as far as ends the mode. A coil's voltage is its own.
double BranchCircuit::untaken_voltage(double current) const {
  if (has_inductors_) return kMostVolts;
  const double past = setting_.voltage + 10 * kTie * std::max(setting_.voltage, 1.0);
  return sensed() ? past : past - parts_.wire * current;
}

// Likewise where the load gives more than the output lets in. Only what drives a current can.
double BranchCircuit::ungiven_voltage() const {
  return has_inductors_ ? -kMostVolts : 0;
}

double BranchCircuit::solve_port(double current, double conductance, const double* state, double& guess) const {
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
    if (std::abs(outer) > kMostVolts) return direction > 0 ? untaken_voltage(current) : ungiven_voltage();
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

BranchCircuit::Point BranchCircuit::point(Mode mode, double drive, double slope, const double* state,
                                          double& guess) const {
  const Drive kind = drive_of(mode);
  const double wire = parts_.wire;
  const bool off = kind == Drive::Off || kind == Drive::OffShorted;
  const double off_conductance = off && parts_.off_resistance ? 1 / *parts_.off_resistance : 0;
  const double held = port_capacitance_ + (wire == 0 ? parts_.output_capacitance : 0);
  Point result;
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
    result.port = port != nullptr ? *port : solve_port(drive, 0, state, guess);
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
    result.port = port != nullptr ? *port : solve_port(drive / wire, 1 / wire, state, guess);
    result.terminal = drive;
    result.terminal_rate = slope;
    result.wire_current = (drive - result.port) / wire;
    result.regulator = result.wire_current + parts_.output_capacitance * slope;
  } else if (terminal != nullptr) {
    result.terminal = *terminal;
    result.port = port != nullptr ? *port : solve_port(result.terminal / wire, 1 / wire, state, guess);
    result.wire_current = (result.terminal - result.port) / wire;
    result.regulator = off ? 0 : drive;
    const double spare = result.regulator - off_conductance * result.terminal - result.wire_current;
    result.terminal_rate = spare / parts_.output_capacitance;
  } else {
    const double current = off ? 0 : drive;
    const double back = off_conductance / (1 + off_conductance * wire);
    result.port = port != nullptr ? *port : solve_port(current, back, state, guess);
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

void BranchCircuit::rates(Mode mode, double slope, const double* state, double* rates, double& guess) const {
  rates_at(point(mode, state[count_], slope, state, guess), slope, state, rates);
}

void BranchCircuit::rates_at(const Point& now, double slope, const double* state, double* rates) const {
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    parts_.branches[i]->rates(now.port, own(state, i), rates + offsets_[i]);
  }
  if (port_index_) rates[*port_index_] = now.port_rate;
  if (terminal_index_) rates[*terminal_index_] = now.terminal_rate;
  rates[count_] = slope;
}

Circuit::Reading BranchCircuit::read(Quantity quantity, Mode mode) const {
  const auto pick = [quantity](const Point& at) {
    switch (quantity) {
      case Quantity::TerminalVoltage:
        return at.terminal;
      case Quantity::TerminalCurrent:
        return at.wire_current;
      case Quantity::RegulatorCurrent:
        return at.regulator;
      case Quantity::PortVoltage:
        break;
    }
    return at.port;
  };
  const Driving driving = driving_of(mode);
  std::vector<double> state = state_;
  state[count_] = driving.value;
  double guess = port_guess_;
  Reading result;
  result.value = pick(point(mode, driving.value, driving.slope, state.data(), guess));
  result.value_noise = kTie * std::abs(result.value);
  std::vector<double> direction(count_ + 1, 0.0);
  rates(mode, driving.slope, state.data(), direction.data(), guess);
  double time = 1;
  for (std::size_t i = 0; i <= count_; ++i) {
    if (direction[i] != 0) time = std::min(time, (std::abs(state[i]) + 1e-3) / std::abs(direction[i]));
  }
  time *= 1e-6;
  for (std::size_t i = 0; i <= count_; ++i) state[i] += time * direction[i];
  result.slope = (pick(point(mode, state[count_], driving.slope, state.data(), guess)) - result.value) / time;
  result.slope_noise = 1e-4 * std::abs(result.slope) + 1e-14 * std::abs(result.value) / time;
  return result;
}

std::optional<double> BranchCircuit::held_voltage() const {
  if (terminal_index_ && (!sensed() || compensates())) return state_[*terminal_index_];
  if (port_index_ && (sensed() || parts_.wire == 0)) return state_[*port_index_];
  if (!held_terminals()) return std::nullopt;
  double guess = port_guess_;
  return point(Mode::Holding, 0, 0, state_.data(), guess).port;
}

void BranchCircuit::hold(double voltage) {
  if (terminal_index_ && !sensed()) {
    state_[*terminal_index_] = voltage;
  } else if (port_index_) {
    state_[*port_index_] = voltage;
  }
}

std::size_t BranchCircuit::first_inductor() const {
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    if (parts_.branches[i]->is_inductor()) return parts_.elements[i];
  }
  return 0;
}

std::optional<double> BranchCircuit::held_terminals() const {
  if (!sensed() || !terminal_index_) return std::nullopt;
  return state_[*terminal_index_];
}

// Voltages are as exact as the method, and what follows from them by a steep characteristic is less so.
double BranchCircuit::current_noise() const {
  double noise = 0;
  for (const double share : {0.0, 1.0}) {
    const double volts = piece_.port_voltage.value(share);
    std::vector<double> state(count_);
    for (std::size_t i = 0; i < count_; ++i) state[i] = piece_.states[i].value(share);
    noise = std::max(noise, kTie * std::abs(volts * flow(volts, state.data()).slope));
  }
  return noise;
}

Mode BranchCircuit::decide_off(std::optional<Mode> expected) const {
  if (!has_inductors_) return Mode::Off;
  const Reading voltage = read(Quantity::PortVoltage, Mode::Off);
  const int side = side_of(voltage.value, kTie, voltage.slope, voltage.slope_noise);
  if (side < 0 || (side == 0 && expected == Mode::OffFreewheel)) return Mode::OffFreewheel;
  return Mode::Off;
}

void BranchCircuit::settle(std::optional<Mode> expected) {
  change_.reset();
  timed_ = false;
  stepper_.restart();
  settle_ways(expected);
  if (leads_terminals(mode_)) state_[*terminal_index_] = terminal_voltage();
}

// The output's mode and the branches' ways, until they fit each other.
void BranchCircuit::settle_ways(std::optional<Mode> expected) {
  for (int round = 0; round < kMaxSwitches; ++round) {
    mode_ = decide(expected);
    if (mode_ == Mode::OffFreewheel && port_index_) {
      const double before = stored_energy();
      state_[*port_index_] = 0;
      note_jump(before - stored_energy());
    }
    if (follow_ != Follow::All) return;
    const double volts = port_voltage();
    bool switched = false;
    for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
      switched = parts_.branches[i]->switch_at(volts, state_.data() + offsets_[i]) || switched;
    }
    if (!switched) return;
  }
  // The branches go back and forth at this very voltage: the output's mode has to fit the way they stand now.
  mode_ = decide(expected);
}

// ---- courses

double BranchCircuit::next_timed() const {
  double next = std::numeric_limits<double>::infinity();
  if (follow_ != Follow::All) return next;
  for (const auto& branch : parts_.branches) next = std::min(next, branch->next_change());
  return next;
}

std::vector<double> BranchCircuit::periods() const {
  std::vector<double> result;
  for (const auto& branch : parts_.branches) {
    if (const std::optional<double> period = branch->period()) result.push_back(*period);
  }
  return result;
}

void BranchCircuit::read_running(std::vector<RunningPart>& parts) const {
  parts.clear();
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    if (const std::optional<bool> runs = parts_.branches[i]->runs()) parts.push_back({parts_.elements[i], *runs});
  }
}

void BranchCircuit::fill_piece(double length) {
  const double slope = driving_of(mode_).slope;
  piece_.length = length;
  piece_.basis.reset(kNodes - 1, {});
  NodePoints points;
  NodeLosses losses(parts_.branches.size());
  for (std::size_t node = 0; node < kNodes; ++node) {
    const std::vector<double>& state = stepper_.at_node(node);
    points[node] = point(mode_, state[count_], slope, state.data(), port_guess_);
    for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
      losses[i][node] = parts_.branches[i]->loss(points[node].port, own(state.data(), i));
    }
  }
  if (stepper_.damped()) {
    // Without a wire, what the output capacitance gives is what flows at the end too.
    for (Point& at : points) at.wire_current = parts_.wire == 0 ? points.back().wire_current : at.wire_current;
    fill_damped_losses(points, losses);
  }
  std::array<double, kNodes> values{};
  const auto signal = [&](auto&& value_at) {
    for (std::size_t node = 0; node < kNodes; ++node) values[node] = value_at(node);
    return Signal(piece_.basis, through_nodes(values));
  };
  piece_.states.clear();
  for (std::size_t i = 0; i <= count_; ++i) {
    piece_.states.push_back(signal([&](std::size_t node) { return stepper_.at_node(node)[i]; }));
  }
  piece_.terminal_voltage = signal([&](std::size_t node) { return points[node].terminal; });
  piece_.terminal_current = signal([&](std::size_t node) { return points[node].wire_current; });
  piece_.regulator_current = signal([&](std::size_t node) { return points[node].regulator; });
  piece_.port_voltage = signal([&](std::size_t node) { return points[node].port; });
  const bool shorted = drive_of(mode_) == Drive::OffShorted;
  piece_.port_current = signal([&](std::size_t node) {
    if (shorted) return flow(0, stepper_.at_node(node).data()).current;
    return points[node].wire_current - port_capacitance_ * points[node].port_rate;
  });
  piece_.drive = piece_.states[count_];
  losses_.clear();
  for (const auto& loss : losses) losses_.push_back(signal([&](std::size_t node) { return loss[node]; }));
}

// A damped step goes straight by what flows at its end. So this is what its losses are by, or an exponential would add
// currents that it never let flow. What the wire brings apart from that is shared out like the currents.
void BranchCircuit::fill_damped_losses(const NodePoints& points, NodeLosses& losses) const {
  const double* end = stepper_.at_node(kNodes - 1).data();
  std::vector<double> expected(count_ + 1);
  double guess = points.back().port;
  rates(mode_, driving_of(mode_).slope, end, expected.data(), guess);
  std::vector<double> currents;
  double all = 0;
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    currents.push_back(parts_.branches[i]->flow(points.back().port, own(end, i)).current);
    all += std::abs(currents.back());
  }
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    const double part = all > 0 ? std::abs(currents[i]) / all : 0;
    for (std::size_t node = 0; node < kNodes; ++node) {
      const double slope = parts_.branches[i]->stored_slope(own(stepper_.at_node(node).data(), i));
      const double apart = points[node].wire_current - points.back().wire_current;
      losses[i][node] =
          points[node].port * (currents[i] + part * apart) - (slope != 0 ? slope * expected[offsets_[i]] : 0);
    }
  }
}

void BranchCircuit::end_piece_at(double share) {
  piece_.shorten(share);
  for (Signal& signal : losses_) signal.shorten(share);
}

// Where a branch first changes its way by the port's voltage, as a share of the piece.
double BranchCircuit::first_edge() const {
  double first = kNowhere;
  for (const auto& branch : parts_.branches) {
    const std::optional<Edge> edge = branch->edge();
    if (!edge) continue;
    first = std::min(first, first_passing(piece_.port_voltage, edge->level, edge->rising, 1e-12 * edge->level));
  }
  return first;
}

// Where the port's voltage first passes a corner of a branch, away from the ends of the piece.
double BranchCircuit::first_corner() const {
  double first = kNowhere;
  for (const double corner : corners_) {
    const double start = piece_.port_voltage.value(0) - corner;
    const double end = piece_.port_voltage.value(1) - corner;
    const double noise = 1e-11 * std::max(std::abs(corner), kKneeVolts);
    if (std::abs(start) <= noise || start * end >= 0) continue;
    first = std::min(first, first_passing(piece_.port_voltage, corner, start < 0, 0));
  }
  return first > 1e-6 ? first : kNowhere;
}

void BranchCircuit::follow(Follow what, double least) {
  if (follow_ == Follow::All && what != Follow::All) {
    for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
      parts_.branches[i]->stand_still(state_.data() + offsets_[i]);
    }
  }
  if (follow_ != Follow::All && what == Follow::All) {
    for (const auto& branch : parts_.branches) branch->go_on();
  }
  Circuit::follow(what, least);
}

// The method's error speaks of the states at the end alone; what lies between and what follows from them may be worse.
void BranchCircuit::take_step(double longest) {
  const double slope = driving_of(mode_).slope;
  const auto equations = [&](const double* state, double* rates) {
    this->rates(mode_, slope, state, rates, port_guess_);
  };
  const auto slopes = [&](const double* state, StateSlopes& by) { rate_slopes(mode_, slope, state, by, port_guess_); };
  const double shortest = std::max(kShortest, least_);
  stepper_.loosen(roughness());
  fill_piece(stepper_.take(state_, equations, slopes, longest, shortest));
  while (piece_.length > shortest) {
    const double wrong = misfit();
    const double next = std::clamp(kCautious * std::pow(wrong, -1.0 / kFitOrder), kLeastShare, kMostGrowth);
    if (wrong <= 1) {
      if (wrong > 0) stepper_.bound_next(next * piece_.length);
      return;
    }
    const double shorter = piece_.length * std::min({first_corner(), next, kCautious});
    fill_piece(stepper_.take(state_, equations, slopes, std::max(shorter, shortest), shortest));
    stepper_.bound_next(kMostGrowth * piece_.length);
  }
}

void BranchCircuit::plan(double length) {
  const double timed = next_timed();
  const double longest = std::min(length, std::max(timed, kSameTime));
  state_[count_] = driving_of(mode_).value;
  change_.reset();
  timed_ = false;
  take_step(longest);
  double first = first_corner();
  const double edge = follow_ == Follow::All ? first_edge() : kNowhere;
  if (edge <= first && edge < kNowhere) {
    first = edge;
    change_ = mode_;
  }
  if (follow_ != Follow::Nothing) {
    for (const Watch& watch : watches()) {
      const double scale = std::max(watch.scale, watch.signal.magnitude() * 1e-3);
      const std::optional<double> rise = first_rise(SignalCurve(watch.signal), kTie * scale + 1e-12);
      if (rise && *rise < first) {
        first = *rise;
        change_ = watch.next;
      }
    }
  }
  const double turn = turning_point();
  if (turn < first) {
    first = turn;
    change_.reset();
  }
  if (first <= 1) {
    end_piece_at(first);
  } else if (piece_.length >= timed - kSameTime) {
    change_ = mode_;
    timed_ = true;
  }
}

void BranchCircuit::cut(double length) {
  if (length >= piece_.length) return;
  end_piece_at(length / piece_.length);
  change_.reset();
  timed_ = false;
}

void BranchCircuit::advance() {
  for (std::size_t i = 0; i <= count_; ++i) state_[i] = piece_.states[i].value(1);
  if (leads_terminals(mode_)) state_[*terminal_index_] = piece_.terminal_voltage.value(1);
  if (follow_ == Follow::All) {
    for (const auto& branch : parts_.branches) branch->pass_time(piece_.length);
  }
  setting_.voltage += setting_.voltage_slope * piece_.length;
  setting_.limit += setting_.limit_slope * piece_.length;
}

// ---- figures

double BranchCircuit::stored_energy() const {
  double sum = port_index_ ? port_capacitance_ * state_[*port_index_] * state_[*port_index_] / 2 : 0;
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) sum += parts_.branches[i]->stored(own(state_.data(), i));
  return sum;
}

double BranchCircuit::held_by(std::size_t element) const {
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    if (parts_.elements[i] == element) return parts_.branches[i]->held(port_voltage(), own(state_.data(), i));
  }
  return port_voltage();
}

void BranchCircuit::add_losses(std::vector<double>& elements) const {
  for (std::size_t i = 0; i < losses_.size(); ++i) {
    elements[parts_.elements[i]] += piece_.length * integral(losses_[i]);
  }
}

Snapshot BranchCircuit::snapshot(double volts, double amps) const {
  Snapshot result;
  result.same = kSameState;
  result.numbers.assign(state_.begin(), state_.end() - 1);
  result.scales.assign(count_, volts);
  for (std::size_t i = 0; i < parts_.branches.size(); ++i) {
    if (parts_.branches[i]->is_inductor()) result.scales[offsets_[i]] = amps;
    if (const std::optional<Memory> memory = parts_.branches[i]->memory()) {
      result.parts.push_back(memory->way);
      result.numbers.push_back(memory->left);
      result.scales.push_back(memory->scale);
    }
  }
  return result;
}

}  // namespace rampart::circuit
