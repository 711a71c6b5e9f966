#include "runtime/circuit/branch_circuit.h"

#include <algorithm>
#include <cmath>

namespace rampart::circuit {
namespace {

// Local error of a step against the state, and against 1 V, 1 A or one unit of a scaled state.
constexpr double kRelative = 1e-9;
constexpr double kAbsolute = 1e-11;
// States that differ by less are the same: a tenth of a step's error, or passes that are alike would never agree.
constexpr double kSameState = 1e-10;
// Shorter steps are damped, s: nothing on a bench is that fast.
constexpr double kShortest = 1e-12;
// The next step by what the last one was off: errors go by this power of the length.
constexpr double kFitOrder = 4;
constexpr double kCautious = 0.7;
constexpr double kLeastShare = 0.1;
constexpr double kMostGrowth = 4;
constexpr double kNowhere = 2;
constexpr int kMaxSwitches = 8;

// Where a signal first passes the level; `rising` says from which side.
double first_passing(const Signal& signal, double level, bool rising, double tolerance) {
  const Signal above = signal.plus_line(-level, 0);
  return first_rise(SignalCurve(rising ? above : above.times(-1)), tolerance).value_or(kNowhere);
}

}  // namespace

BranchCircuit::BranchCircuit(BranchParts parts, OutputTraits traits)
    : Circuit(traits),
      network_(std::move(parts), traits.headroom.has_value()),
      count_(network_.state_count()),
      state_(network_.first_states()),
      stepper_(count_ + 1, kRelative, kAbsolute) {
  same_ = kTie;
}

Circuit::Reading BranchCircuit::read(Quantity quantity, Mode mode) const {
  const auto pick = [quantity](const NetworkPoint& at) {
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
  result.value = pick(network_.point(imposed(mode), state.data(), guess));
  result.value_noise = kTie * std::abs(result.value);
  std::vector<double> direction(count_ + 1, 0.0);
  network_.rates(imposed(mode), state.data(), direction.data(), guess);
  double time = 1;
  for (std::size_t i = 0; i <= count_; ++i) {
    if (direction[i] != 0) time = std::min(time, (std::abs(state[i]) + 1e-3) / std::abs(direction[i]));
  }
  time *= 1e-6;
  for (std::size_t i = 0; i <= count_; ++i) state[i] += time * direction[i];
  result.slope = (pick(network_.point(imposed(mode), state.data(), guess)) - result.value) / time;
  result.slope_noise = 1e-4 * std::abs(result.slope) + 1e-14 * std::abs(result.value) / time;
  return result;
}

std::optional<double> BranchCircuit::held_voltage() const {
  if (network_.terminal_index() && (!sensed() || compensates())) return state_[*network_.terminal_index()];
  if (network_.port_index() && (sensed() || network_.parts().wire == 0)) return state_[*network_.port_index()];
  if (!held_terminals()) return std::nullopt;
  double guess = port_guess_;
  std::vector<double> state = state_;
  state[count_] = 0;
  return network_.point({drive_of(Mode::Holding), 0, setting_.voltage}, state.data(), guess).port;
}

void BranchCircuit::hold(double voltage) {
  if (network_.terminal_index() && !sensed()) {
    state_[*network_.terminal_index()] = voltage;
  } else if (network_.port_index()) {
    state_[*network_.port_index()] = voltage;
  }
}

std::size_t BranchCircuit::first_inductor() const {
  for (std::size_t i = 0; i < network_.parts().branches.size(); ++i) {
    if (network_.parts().branches[i]->is_inductor()) return network_.parts().elements[i];
  }
  return 0;
}

std::optional<double> BranchCircuit::held_terminals() const {
  if (!sensed() || !network_.terminal_index()) return std::nullopt;
  return state_[*network_.terminal_index()];
}

// Voltages are as exact as the method, and what follows from them by a steep characteristic is less so.
double BranchCircuit::current_noise() const {
  double noise = 0;
  for (const double share : {0.0, 1.0}) {
    const double volts = piece_.port_voltage.value(share);
    std::vector<double> state(count_);
    for (std::size_t i = 0; i < count_; ++i) state[i] = piece_.states[i].value(share);
    noise = std::max(noise, kTie * std::abs(volts * network_.flow(volts, state.data()).slope));
  }
  return noise;
}

Mode BranchCircuit::decide_off(std::optional<Mode> expected) const {
  if (!network_.has_inductors()) return Mode::Off;
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
  if (leads_terminals(mode_)) state_[*network_.terminal_index()] = terminal_voltage();
}

// The output's mode and the branches' ways, until they fit each other.
void BranchCircuit::settle_ways(std::optional<Mode> expected) {
  for (int round = 0; round < kMaxSwitches; ++round) {
    mode_ = decide(expected);
    if (mode_ == Mode::OffFreewheel && network_.port_index()) {
      const double before = stored_energy();
      state_[*network_.port_index()] = 0;
      note_jump(before - stored_energy());
    }
    if (follow_ != Follow::All) return;
    const double volts = port_voltage();
    bool switched = false;
    for (std::size_t i = 0; i < network_.parts().branches.size(); ++i) {
      switched = network_.branches()[i]->switch_at(volts, network_.own(state_.data(), i)) || switched;
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
  for (const auto& branch : network_.parts().branches) next = std::min(next, branch->next_change());
  return next;
}

std::vector<double> BranchCircuit::periods() const {
  std::vector<double> result;
  for (const auto& branch : network_.parts().branches) {
    if (const std::optional<double> period = branch->period()) result.push_back(*period);
  }
  return result;
}

void BranchCircuit::read_running(std::vector<RunningPart>& parts) const {
  parts.clear();
  for (std::size_t i = 0; i < network_.parts().branches.size(); ++i) {
    if (const std::optional<bool> runs = network_.parts().branches[i]->runs())
      parts.push_back({network_.parts().elements[i], *runs});
  }
}

void BranchCircuit::fill_piece(double length) {
  piece_.length = length;
  piece_.basis.reset(kNodes - 1, {});
  NodePoints points;
  NodeLosses losses(network_.parts().branches.size());
  for (std::size_t node = 0; node < kNodes; ++node) {
    const std::vector<double>& state = stepper_.at_node(node);
    points[node] = network_.point(imposed(mode_), state.data(), port_guess_);
    for (std::size_t i = 0; i < network_.parts().branches.size(); ++i) {
      losses[i][node] = network_.parts().branches[i]->loss(points[node].port, network_.own(state.data(), i));
    }
  }
  if (stepper_.damped()) {
    // Without a wire, what the output capacitance gives is what flows at the end too.
    for (NetworkPoint& at : points)
      at.wire_current = network_.parts().wire == 0 ? points.back().wire_current : at.wire_current;
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
    if (shorted) return network_.flow(0, stepper_.at_node(node).data()).current;
    return points[node].wire_current - network_.port_capacitance() * points[node].port_rate;
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
  network_.rates(imposed(mode_), end, expected.data(), guess);
  std::vector<double> currents;
  double all = 0;
  for (std::size_t i = 0; i < network_.parts().branches.size(); ++i) {
    currents.push_back(network_.parts().branches[i]->flow(points.back().port, network_.own(end, i)).current);
    all += std::abs(currents.back());
  }
  for (std::size_t i = 0; i < network_.parts().branches.size(); ++i) {
    const double part = all > 0 ? std::abs(currents[i]) / all : 0;
    for (std::size_t node = 0; node < kNodes; ++node) {
      const double slope = network_.parts().branches[i]->stored_slope(network_.own(stepper_.at_node(node).data(), i));
      const double apart = points[node].wire_current - points.back().wire_current;
      losses[i][node] =
          points[node].port * (currents[i] + part * apart) - (slope != 0 ? slope * expected[network_.offset(i)] : 0);
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
  for (const auto& branch : network_.parts().branches) {
    const std::optional<Edge> edge = branch->edge();
    if (!edge) continue;
    first = std::min(first, first_passing(piece_.port_voltage, edge->level, edge->rising, 1e-12 * edge->level));
  }
  return first;
}

// Where the port's voltage first passes a corner of a branch, away from the ends of the piece.
double BranchCircuit::first_corner() const {
  double first = kNowhere;
  for (const double corner : network_.corners()) {
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
    for (std::size_t i = 0; i < network_.parts().branches.size(); ++i) {
      network_.branches()[i]->stand_still(network_.own(state_.data(), i));
    }
  }
  if (follow_ != Follow::All && what == Follow::All) {
    for (const auto& branch : network_.branches()) branch->go_on();
  }
  Circuit::follow(what, least);
}

// The method's error speaks of the states at the end alone; what lies between and what follows from them may be worse.
void BranchCircuit::take_step(double longest) {
  const Imposed output = imposed(mode_);
  const auto equations = [&](const double* state, double* rates) { network_.rates(output, state, rates, port_guess_); };
  const auto slopes = [&](const double* state, StateSlopes& by) {
    network_.rate_slopes(output, state, by, port_guess_);
  };
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
    find_watches(watched_);
    for (const Watch& watch : watched_) {
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
  if (leads_terminals(mode_)) state_[*network_.terminal_index()] = piece_.terminal_voltage.value(1);
  if (follow_ == Follow::All) {
    for (const auto& branch : network_.branches()) branch->pass_time(piece_.length);
  }
  setting_.voltage += setting_.voltage_slope * piece_.length;
  setting_.limit += setting_.limit_slope * piece_.length;
}

// ---- figures

double BranchCircuit::stored_energy() const {
  double sum = network_.port_index()
                   ? network_.port_capacitance() * state_[*network_.port_index()] * state_[*network_.port_index()] / 2
                   : 0;
  for (std::size_t i = 0; i < network_.parts().branches.size(); ++i)
    sum += network_.parts().branches[i]->stored(network_.own(state_.data(), i));
  return sum;
}

double BranchCircuit::held_by(std::size_t element) const {
  for (std::size_t i = 0; i < network_.parts().branches.size(); ++i) {
    if (network_.parts().elements[i] == element)
      return network_.parts().branches[i]->held(port_voltage(), network_.own(state_.data(), i));
  }
  return port_voltage();
}

void BranchCircuit::add_losses(std::vector<double>& elements) const {
  for (std::size_t i = 0; i < losses_.size(); ++i) {
    elements[network_.parts().elements[i]] += piece_.length * integral(losses_[i]);
  }
}

Snapshot BranchCircuit::snapshot(double volts, double amps) const {
  Snapshot result;
  result.same = kSameState;
  result.numbers.assign(state_.begin(), state_.end() - 1);
  result.scales.assign(count_, volts);
  for (std::size_t i = 0; i < network_.parts().branches.size(); ++i) {
    if (network_.parts().branches[i]->is_inductor()) result.scales[network_.offset(i)] = amps;
    if (const std::optional<Memory> memory = network_.parts().branches[i]->memory()) {
      result.parts.push_back(memory->way);
      result.numbers.push_back(memory->left);
      result.scales.push_back(memory->scale);
    }
  }
  return result;
}

}  // namespace rampart::circuit
