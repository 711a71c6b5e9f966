#include "runtime/circuit/modal.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "runtime/circuit/eigenbasis.h"

namespace rampart::circuit {
namespace {

using Eigen::MatrixXd;
using Eigen::Vector3d;
using FineMatrix = Eigen::Matrix<Fine, Eigen::Dynamic, Eigen::Dynamic>;
using Eigen::VectorXd;

// Modes with a smaller product of decay and length are given by their series.
constexpr double kSlow = 0.3;
// 0.3^15 / 15! is below 1e-19.
constexpr std::size_t kMaxDegree = 15;
// What is left of cancelling parts is nothing below this share of them.
constexpr double kRounding = 1e-15;
// Terminal voltage, terminal and regulator current, port voltage, and the port's current that charges nothing.
constexpr Eigen::Index kOutputs = 5;
// Inputs: the driving value, its slope, and 1.
constexpr Eigen::Index kInputs = 3;

// a b + c, where what cancels to rounding is zero.
MatrixXd clean_sum(const MatrixXd& a, const MatrixXd& b, const MatrixXd& c) {
  MatrixXd sum = a * b + c;
  const MatrixXd size = a.cwiseAbs() * b.cwiseAbs() + c.cwiseAbs();
  for (Eigen::Index i = 0; i < sum.size(); ++i) {
    if (std::abs(sum(i)) < kRounding * size(i)) sum(i) = 0;
  }
  return sum;
}

// How a signal decays in one mode: the weights of its pole's functions.
struct Decay {
  std::size_t mode;
  std::size_t pole;
  double cosine;
  double sine;
};

// The modes' signals while they are made.
struct ModeSignals {
  std::vector<std::vector<double>> polynomial;  // a row a mode
  std::size_t degree = 1;
  std::vector<Basis::Pole> poles;
  std::vector<Decay> decays;
};

// The series of z' = matrix z + constant + slope t, in t over the piece (all times are shares of it).
void add_series(const MatrixXd& matrix, const VectorXd& start, const VectorXd& constant, const VectorXd& slope,
                std::size_t first, ModeSignals& signals) {
  VectorXd term = start;
  const double scale = start.cwiseAbs().sum() + constant.cwiseAbs().sum() + slope.cwiseAbs().sum();
  for (std::size_t n = 0; n <= kMaxDegree; ++n) {
    for (Eigen::Index i = 0; i < term.size(); ++i) {
      auto& row = signals.polynomial[first + static_cast<std::size_t>(i)];
      if (row.size() <= n) row.resize(n + 1, 0.0);
      row[n] = term(i);
    }
    signals.degree = std::max(signals.degree, n);
    VectorXd next = matrix * term;
    if (n == 0) next += constant;
    if (n == 1) next += slope;
    term = next / static_cast<double>(n + 1);
    if (n >= 1 && term.cwiseAbs().sum() <= 1e-19 * scale) break;
  }
}

// exp(M t) r = exp(-k t) (r cos w t + (M + k) r / w sin w t)
void add_decay(const ModeBlock& block, const MatrixXd& matrix, const VectorXd& r, double length, ModeSignals& signals) {
  const double k = block.decay * length;
  const double w = block.frequency * length;
  signals.poles.push_back({k, w});
  const std::size_t pole = signals.poles.size() - 1;
  if (block.size == 1) {
    signals.decays.push_back({block.first, pole, r(0), 0});
    return;
  }
  const VectorXd turned = (matrix * r + k * r) / w;
  signals.decays.push_back({block.first, pole, r(0), turned(0)});
  signals.decays.push_back({block.first + 1, pole, r(1), turned(1)});
}

}  // namespace

// The states here are those of the network without those that the drive imposes or that follow the others.
struct Propagator::Work {
  const StateEquations* equations = nullptr;
  Drive drive{};
  double output_capacitance = 0;
  std::size_t network_count = 0;
  std::vector<std::size_t> places;  // of each state in the network's
  std::optional<std::size_t> imposed;
  MatrixXd outputs;  // y = outputs x + output_inputs u
  MatrixXd output_inputs;
  MatrixXd to_states;  // from modes
  MatrixXd to_modes;
  MatrixXd mode_rates;  // block diagonal
  std::vector<ModeBlock> blocks;
  MatrixXd mode_inputs;
  double slowest = 0;  // the least decay of all modes
  // Long after a change x and y follow the drive: x = following u. Without a mode that stands still.
  MatrixXd following;
  MatrixXd output_following;

  void find_following(const FineMatrix& rates, const FineMatrix& inputs);
  [[nodiscard]] bool all_fast(double length) const { return slowest * length >= kSlow; }
  void solve_modes(const VectorXd& start, const Driving& driving, double length, ModeSignals& signals) const;
  void add_charging(const Driving& driving, Piece& piece) const;
  void lead_terminals(const Driving& driving, double a_second, Piece& piece) const;
  void refine_lead_current(const Driving& driving, const Signal& uncharging, double a_second, Piece& piece) const;
  void solve_decays(const VectorXd& start, const Vector3d& drive, double length, ModeSignals& signals) const;
};

Propagator::Propagator(const Network& network, Drive drive) : work_(std::make_unique<Work>()) {
  Work& work = *work_;
  const StateEquations& equations = network.equations(drive);
  work.network_count = network.state_count();
  work.imposed = equations.imposed;
  for (std::size_t i = 0; i < work.network_count; ++i) {
    if (i != work.imposed && i != equations.follows_terminal) work.places.push_back(i);
  }
  const auto count = static_cast<Eigen::Index>(work.places.size());
  const auto put = [&](FineMatrix& matrix, FineMatrix& inputs, Eigen::Index row, const Form& form) {
    for (Eigen::Index i = 0; i < count; ++i) matrix(row, i) = form.state[work.places[static_cast<std::size_t>(i)]];
    inputs.row(row) << form.drive, form.slope, form.constant;
  };
  FineMatrix rates = FineMatrix::Zero(count, count);
  FineMatrix inputs = FineMatrix::Zero(count, kInputs);
  FineMatrix outputs = FineMatrix::Zero(kOutputs, count);
  FineMatrix output_inputs = FineMatrix::Zero(kOutputs, kInputs);
  std::vector<double> storage;
  for (Eigen::Index i = 0; i < count; ++i) {
    const std::size_t place = work.places[static_cast<std::size_t>(i)];
    put(rates, inputs, i, equations.rates[place]);
    storage.push_back(network.storage()[place]);
  }
  put(outputs, output_inputs, 0, equations.terminal_voltage);
  put(outputs, output_inputs, 1, equations.terminal_current);
  put(outputs, output_inputs, 2, equations.regulator_current);
  put(outputs, output_inputs, 3, equations.port_voltage);
  put(outputs, output_inputs, 4, equations.not_charging);
  work.outputs = outputs.cast<double>();
  work.output_inputs = output_inputs.cast<double>();
  work.equations = &equations;
  work.drive = drive;
  work.output_capacitance = network.parts().output_capacitance;
  if (count == 0) {
    work.slowest = 1e300;
    work.mode_inputs.setZero(0, kInputs);
    work.following.setZero(0, kInputs);
    work.output_following = work.output_inputs;
    return;
  }
  const bool floats = drive == Drive::Current || drive == Drive::WireCurrent ||
                      (drive == Drive::Off && !network.parts().off_resistance);
  const std::vector<Fine> stored(rates.data(), rates.data() + rates.size());
  const Eigenbasis basis = eigenbasis_of(stored, storage, floats && network.keeps_charge());
  work.to_states = Eigen::Map<const MatrixXd>(basis.to_states.data(), count, count);
  work.to_modes = Eigen::Map<const MatrixXd>(basis.to_modes.data(), count, count);
  work.mode_rates = Eigen::Map<const MatrixXd>(basis.rates.data(), count, count);
  work.blocks = basis.blocks;
  work.mode_inputs = work.to_modes * inputs.cast<double>();
  work.slowest = 1e300;
  for (const ModeBlock& block : work.blocks) {
    work.slowest = std::min(work.slowest, std::hypot(block.decay, block.frequency));
  }
  if (work.slowest > 0) work.find_following(rates, inputs);
}

Propagator::~Propagator() = default;
Propagator::Propagator(Propagator&&) noexcept = default;
Propagator& Propagator::operator=(Propagator&&) noexcept = default;

// x = a s + b s' + c with s'' = 0: rates a = -inputs(s), rates b = a - inputs(s'), rates c = -inputs(1).
void Propagator::Work::find_following(const FineMatrix& rates, const FineMatrix& inputs) {
  const Eigen::PartialPivLU<FineMatrix> solver(rates);
  FineMatrix found(rates.rows(), kInputs);
  found.col(0) = solver.solve(-inputs.col(0));
  found.col(1) = solver.solve(found.col(0) - inputs.col(1));
  found.col(2) = solver.solve(-inputs.col(2));
  following = found.cast<double>();
  output_following = clean_sum(outputs, following, output_inputs);
}

// Every mode is fast: what is left of the past decays, and the rest follows the drive.
void Propagator::Work::solve_decays(const VectorXd& start, const Vector3d& drive, double length,
                                    ModeSignals& signals) const {
  const VectorXd past = to_modes * (start - following * drive);
  for (const ModeBlock& block : blocks) {
    const auto first = static_cast<Eigen::Index>(block.first);
    const auto size = static_cast<Eigen::Index>(block.size);
    add_decay(block, length * mode_rates.block(first, first, size, size), past.segment(first, size), length, signals);
  }
}

void Propagator::Work::solve_modes(const VectorXd& start, const Driving& driving, double length,
                                   ModeSignals& signals) const {
  const VectorXd modes = to_modes * start;
  const VectorXd constant = length * (mode_inputs * Vector3d(driving.value, driving.slope, 1.0));
  const VectorXd slope = (length * length * driving.slope) * mode_inputs.col(0);
  for (const ModeBlock& block : blocks) {
    const auto first = static_cast<Eigen::Index>(block.first);
    const auto size = static_cast<Eigen::Index>(block.size);
    const MatrixXd matrix = length * mode_rates.block(first, first, size, size);
    const VectorXd z = modes.segment(first, size);
    const VectorXd a = constant.segment(first, size);
    const VectorXd b = slope.segment(first, size);
    if (std::hypot(block.decay, block.frequency) * length < kSlow) {
      add_series(matrix, z, a, b, block.first, signals);
      continue;
    }
    const MatrixXd inverse = matrix.inverse();
    const VectorXd q = -(inverse * b);
    const VectorXd p = inverse * (q - a);
    for (Eigen::Index i = 0; i < size; ++i) {
      signals.polynomial[block.first + static_cast<std::size_t>(i)] = {p(i), q(i)};
    }
    add_decay(block, matrix, z - p, length, signals);
  }
}

void Propagator::solve(const std::vector<double>& state, const Driving& driving, double length, Piece& piece) const {
  const Work& work = *work_;
  const auto count = static_cast<Eigen::Index>(work.places.size());
  const Vector3d drive(driving.value, driving.slope, 1.0);
  const Vector3d drive_slope(driving.slope * length, 0.0, 0.0);
  VectorXd start(count);
  for (Eigen::Index i = 0; i < count; ++i) start(i) = state[work.places[static_cast<std::size_t>(i)]];
  piece.length = length;

  ModeSignals signals;
  signals.polynomial.assign(work.places.size(), {});
  const bool follows = work.all_fast(length);
  if (follows) {
    work.solve_decays(start, drive, length, signals);
  } else {
    work.solve_modes(start, driving, length, signals);
  }

  piece.basis.reset(signals.degree, std::move(signals.poles));
  const auto size = static_cast<Eigen::Index>(piece.basis.size());
  MatrixXd modes = MatrixXd::Zero(count, size);
  for (Eigen::Index mode = 0; mode < count; ++mode) {
    const auto& row = signals.polynomial[static_cast<std::size_t>(mode)];
    for (std::size_t n = 0; n < row.size(); ++n) modes(mode, static_cast<Eigen::Index>(n)) = row[n];
  }
  for (const Decay& decay : signals.decays) {
    const auto place = static_cast<Eigen::Index>(piece.basis.place_of(decay.pole));
    modes(static_cast<Eigen::Index>(decay.mode), place) = decay.cosine;
    if (piece.basis.poles()[decay.pole].frequency != 0) {
      modes(static_cast<Eigen::Index>(decay.mode), place + 1) = decay.sine;
    }
  }
  MatrixXd states = work.to_states * modes;
  MatrixXd direct = MatrixXd::Zero(kOutputs, size);
  if (follows) {
    direct.col(0) = work.output_following * drive;
    direct.col(1) = work.output_following * drive_slope;
  } else {
    direct.col(0) = work.output_inputs * drive;
    direct.col(1) = work.output_inputs * drive_slope;
  }
  const MatrixXd outputs = clean_sum(work.outputs, states, direct);
  if (follows && count > 0) {
    states.col(0) += work.following * drive;
    states.col(1) += work.following * drive_slope;
  }

  const auto signal = [&](const MatrixXd& rows, Eigen::Index row) {
    std::vector<double> values(piece.basis.size());
    for (Eigen::Index i = 0; i < size; ++i) values[static_cast<std::size_t>(i)] = rows(row, i);
    return Signal(piece.basis, std::move(values));
  };
  std::vector<double> line(piece.basis.size(), 0.0);
  line[0] = driving.value;
  line[1] = driving.slope * length;
  piece.drive = Signal(piece.basis, std::move(line));
  piece.states.assign(work.network_count, piece.drive);
  for (Eigen::Index i = 0; i < count; ++i) {
    piece.states[work.places[static_cast<std::size_t>(i)]] = signal(states, i);
  }
  piece.terminal_voltage = signal(outputs, 0);
  piece.terminal_current = signal(outputs, 1);
  piece.regulator_current = signal(outputs, 2);
  if (work.equations->follows_terminal) piece.states[*work.equations->follows_terminal] = piece.terminal_voltage;
  piece.port_voltage = signal(outputs, 3);
  piece.port_current = signal(outputs, 4);
  work.add_charging(driving, piece);
}

// Currents that charge capacitors, from the change of their charge.
void Propagator::Work::add_charging(const Driving& driving, Piece& piece) const {
  // A change of mode may come at once; then there is no time for anything to charge.
  const double a_second = piece.length > 0 ? 1 / piece.length : 0;
  const Signal uncharging = piece.port_current;
  for (const StateEquations::Charging& part : equations->charging) {
    const Signal& own = piece.states[part.state];
    piece.port_current = piece.port_current.plus(own.derivative().times(part.capacitance * a_second));
    if (part.leakage > 0) piece.port_current = piece.port_current.plus(own.times(part.leakage));
  }
  if (equations->sensed_wire > 0) lead_terminals(driving, a_second, piece);
  if (equations->lead_conductance > 0) refine_lead_current(driving, uncharging, a_second, piece);
  if (!equations->terminal_at_port) return;
  // A current that is imposed as it stands needs no sum.
  if (drive == Drive::Current && output_capacitance == 0) return;
  const Signal change = piece.port_voltage.derivative().times(a_second);
  piece.terminal_current = piece.port_current.plus(change.times(equations->port_capacitance));
  if (drive == Drive::Voltage || drive == Drive::SensedVoltage) {
    piece.regulator_current = piece.terminal_current.plus_line(output_capacitance * driving.slope, 0);
  }
}

// The load's side settles what the wire brings, and that the terminals.
void Propagator::Work::lead_terminals(const Driving& driving, double a_second, Piece& piece) const {
  const double wire = equations->sensed_wire;
  const Signal filling = piece.port_voltage.derivative().times(a_second * equations->port_capacitance);
  piece.terminal_current = piece.port_current.plus(filling);
  if (equations->compensates) {
    const double following = wire * equations->port_capacitance * driving.slope;
    piece.terminal_voltage = piece.drive.plus(piece.port_current.times(wire)).plus_line(following, 0);
  } else {
    piece.terminal_voltage = piece.port_voltage.plus(piece.terminal_current.times(wire));
  }
  const Signal rate = piece.terminal_voltage.derivative().times(a_second * output_capacitance);
  piece.regulator_current = piece.terminal_current.plus(rate);
  if (equations->follows_terminal) piece.states[*equations->follows_terminal] = piece.terminal_voltage;
}

// The wire's current function by function: by the voltage across it, or by what the load takes and stores, whichever
// loses less to rounding.
void Propagator::Work::refine_lead_current(const Driving& driving, const Signal& uncharging, double a_second,
                                           Piece& piece) const {
  const Signal filling = piece.port_voltage.derivative().times(a_second * equations->port_capacitance);
  const Signal taken = piece.port_current.plus(filling);
  std::vector<double> weights = piece.terminal_current.weights();
  std::vector<double> sizes(weights.size());
  const auto add_sizes = [&](const Signal& signal, double factor) {
    for (std::size_t i = 0; i < sizes.size(); ++i) sizes[i] += std::abs(factor * signal.weights()[i]);
  };
  add_sizes(uncharging, 1);
  add_sizes(filling, 1);
  for (const StateEquations::Charging& part : equations->charging) {
    add_sizes(piece.states[part.state].derivative(), part.capacitance * a_second);
    add_sizes(piece.states[part.state], part.leakage);
  }
  const double conductance = equations->lead_conductance;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    const double across = std::abs(piece.terminal_voltage.weights()[i]) + std::abs(piece.port_voltage.weights()[i]);
    if (sizes[i] < conductance * across) weights[i] = taken.weights()[i];
  }
  piece.terminal_current = Signal(piece.basis, std::move(weights));
  if (drive == Drive::Voltage) {
    piece.regulator_current = piece.terminal_current.plus_line(output_capacitance * driving.slope, 0);
  }
}

}  // namespace rampart::circuit
