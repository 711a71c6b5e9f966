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

// One mode, or a pair of them that turn into each other.
constexpr Eigen::Index kMostModes = 2;
using BlockMatrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, kMostModes, kMostModes>;
using BlockVector = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, kMostModes, 1>;

// The series of z' = matrix z + constant + slope t, in t over the piece (all times are shares of it).
void add_series(const BlockMatrix& matrix, const BlockVector& start, const BlockVector& constant,
                const BlockVector& slope, std::size_t first, ModeCourses& courses) {
  BlockVector term = start;
  const double scale = start.cwiseAbs().sum() + constant.cwiseAbs().sum() + slope.cwiseAbs().sum();
  for (std::size_t n = 0; n <= kMaxDegree; ++n) {
    for (Eigen::Index i = 0; i < term.size(); ++i) {
      auto& row = courses.polynomials[first + static_cast<std::size_t>(i)];
      if (row.size() <= n) row.resize(n + 1, 0.0);
      row[n] = term(i);
    }
    courses.degree = std::max(courses.degree, n);
    BlockVector next = matrix * term;
    if (n == 0) next += constant;
    if (n == 1) next += slope;
    term = next / static_cast<double>(n + 1);
    if (n >= 1 && term.cwiseAbs().sum() <= 1e-19 * scale) break;
  }
}

// exp(M t) r = exp(-k t) (r cos w t + (M + k) r / w sin w t)
void add_decay(const ModeBlock& block, const BlockMatrix& matrix, const BlockVector& r, double length,
               ModeCourses& courses) {
  const double k = block.decay * length;
  const double w = block.frequency * length;
  courses.poles.push_back({k, w});
  const std::size_t pole = courses.poles.size() - 1;
  if (block.size == 1) {
    courses.decays.push_back({block.first, pole, r(0), 0});
    return;
  }
  const BlockVector turned = (matrix * r + k * r) / w;
  courses.decays.push_back({block.first, pole, r(0), turned(0)});
  courses.decays.push_back({block.first + 1, pole, r(1), turned(1)});
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
  void solve_modes(const Driving& driving, double length, ModeCourses& courses) const;
  void add_charging(const Driving& driving, Piece& piece) const;
  void lead_terminals(const Driving& driving, double a_second, Piece& piece) const;
  void refine_lead_current(const Driving& driving, const Signal& uncharging, double a_second, Piece& piece) const;
  void solve_decays(double length, ModeCourses& courses) const;
  void fill_weights(const Basis& basis, ModeCourses& courses) const;
  void fill_states(const Piece& piece, std::size_t state, Weights& weights) const;
  void fill_output(Eigen::Index output, const Vector3d& drive, double slope, bool follows, Piece& piece,
                   Signal& signal) const;
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
void Propagator::Work::solve_decays(double length, ModeCourses& courses) const {
  for (const ModeBlock& block : blocks) {
    const auto first = static_cast<Eigen::Index>(block.first);
    const auto size = static_cast<Eigen::Index>(block.size);
    const BlockVector past = Eigen::Map<const BlockVector>(courses.start.data() + block.first, size);
    add_decay(block, length * mode_rates.block(first, first, size, size), past, length, courses);
  }
}

void Propagator::Work::solve_modes(const Driving& driving, double length, ModeCourses& courses) const {
  const Vector3d drive(driving.value, driving.slope, 1.0);
  for (const ModeBlock& block : blocks) {
    const auto first = static_cast<Eigen::Index>(block.first);
    const auto size = static_cast<Eigen::Index>(block.size);
    const BlockMatrix matrix = length * mode_rates.block(first, first, size, size);
    const BlockVector z = Eigen::Map<const BlockVector>(courses.start.data() + block.first, size);
    const BlockVector a = length * (mode_inputs.middleRows(first, size) * drive);
    const BlockVector b = (length * length * driving.slope) * mode_inputs.col(0).segment(first, size);
    if (std::hypot(block.decay, block.frequency) * length < kSlow) {
      add_series(matrix, z, a, b, block.first, courses);
      continue;
    }
    const BlockMatrix inverse = matrix.inverse();
    const BlockVector q = -(inverse * b);
    const BlockVector p = inverse * (q - a);
    for (Eigen::Index i = 0; i < size; ++i) {
      courses.polynomials[block.first + static_cast<std::size_t>(i)].assign({p(i), q(i)});
    }
    add_decay(block, matrix, z - p, length, courses);
  }
}

void Propagator::Work::fill_weights(const Basis& basis, ModeCourses& courses) const {
  courses.weights.assign(places.size() * basis.size(), 0.0);
  for (std::size_t mode = 0; mode < places.size(); ++mode) {
    const std::vector<double>& row = courses.polynomials[mode];
    std::copy(row.begin(), row.end(), courses.weights.data() + mode * basis.size());
  }
  for (const ModeCourses::Decay& decay : courses.decays) {
    double* const weights = courses.weights.data() + decay.mode * basis.size() + basis.place_of(decay.pole);
    weights[0] = decay.cosine;
    if (basis.poles()[decay.pole].frequency != 0) weights[1] = decay.sine;
  }
}

// A state from the modes, without what follows the drive.
void Propagator::Work::fill_states(const Piece& piece, std::size_t state, Weights& weights) const {
  for (std::size_t mode = 0; mode < places.size(); ++mode) {
    const double factor = to_states(static_cast<Eigen::Index>(state), static_cast<Eigen::Index>(mode));
    const double* of_mode = piece.modes.weights.data() + mode * weights.size();
    for (double& weight : weights) weight += factor * *of_mode++;
  }
}

// From those states and from the drive, where what cancels to rounding is zero.
void Propagator::Work::fill_output(Eigen::Index output, const Vector3d& drive, double slope, bool follows, Piece& piece,
                                   Signal& signal) const {
  Weights& weights = signal.restart(piece.basis);
  Weights sizes;
  sizes.assign(weights.size(), 0.0);
  for (std::size_t state = 0; state < places.size(); ++state) {
    const double factor = outputs(output, static_cast<Eigen::Index>(state));
    if (factor == 0) continue;
    const Weights& own = piece.states[places[state]].weights();
    for (std::size_t i = 0; i < weights.size(); ++i) {
      const double term = factor * own[i];
      weights[i] += term;
      sizes[i] += std::abs(term);
    }
  }
  const MatrixXd& direct = follows ? output_following : output_inputs;
  const double driven[] = {direct.row(output).dot(drive), direct(output, 0) * slope};
  for (std::size_t i = 0; i < std::size(driven); ++i) {
    weights[i] += driven[i];
    sizes[i] += std::abs(driven[i]);
  }
  for (std::size_t i = 0; i < weights.size(); ++i) {
    if (std::abs(weights[i]) < kRounding * sizes[i]) weights[i] = 0;
  }
}

void Propagator::solve(const std::vector<double>& state, const Driving& driving, double length, Piece& piece) const {
  const Work& work = *work_;
  const std::size_t count = work.places.size();
  const Vector3d drive(driving.value, driving.slope, 1.0);
  const double slope = driving.slope * length;
  piece.length = length;
  const bool follows = work.all_fast(length);

  ModeCourses& courses = piece.modes;
  courses.degree = 1;
  courses.poles.clear();
  courses.decays.clear();
  courses.start.assign(count, 0.0);
  courses.polynomials.resize(count);
  for (auto& row : courses.polynomials) row.clear();
  for (std::size_t i = 0; i < count; ++i) {
    const auto column = static_cast<Eigen::Index>(i);
    const double value = state[work.places[i]] - (follows ? work.following.row(column).dot(drive) : 0);
    for (std::size_t mode = 0; mode < count; ++mode) {
      courses.start[mode] += work.to_modes(static_cast<Eigen::Index>(mode), column) * value;
    }
  }
  if (follows) {
    work.solve_decays(length, courses);
  } else {
    work.solve_modes(driving, length, courses);
  }
  piece.basis.reset(courses.degree, courses.poles);
  work.fill_weights(piece.basis, courses);

  Weights& line = piece.drive.restart(piece.basis);
  line[0] = driving.value;
  line[1] = slope;
  piece.states.resize(work.network_count);
  if (work.imposed) piece.states[*work.imposed] = piece.drive;
  for (std::size_t i = 0; i < count; ++i) {
    work.fill_states(piece, i, piece.states[work.places[i]].restart(piece.basis));
  }
  work.fill_output(0, drive, slope, follows, piece, piece.terminal_voltage);
  work.fill_output(1, drive, slope, follows, piece, piece.terminal_current);
  work.fill_output(2, drive, slope, follows, piece, piece.regulator_current);
  work.fill_output(3, drive, slope, follows, piece, piece.port_voltage);
  work.fill_output(4, drive, slope, follows, piece, piece.port_current);
  if (follows) {
    for (std::size_t i = 0; i < count; ++i) {
      const auto row = work.following.row(static_cast<Eigen::Index>(i));
      piece.states[work.places[i]].add_line(row.dot(drive), row(0) * slope);
    }
  }
  if (work.equations->follows_terminal) piece.states[*work.equations->follows_terminal] = piece.terminal_voltage;
  work.add_charging(driving, piece);
}

void Propagator::shorten(const std::vector<double>& state, const Driving& driving, double share, Piece& piece) const {
  // A mode that is slow against what is left of the piece has to be given by its series.
  const auto too_slow = [share](const Basis::Pole& pole) {
    return std::hypot(pole.decay, pole.frequency) * share < kSlow;
  };
  if (std::any_of(piece.basis.poles().begin(), piece.basis.poles().end(), too_slow)) {
    solve(state, driving, share * piece.length, piece);
  } else {
    piece.shorten(share);
  }
}

void Piece::shorten(double share) {
  length *= share;
  for (Signal& signal : states) signal.shorten(share);
  for (Signal* signal :
       {&terminal_voltage, &terminal_current, &regulator_current, &port_voltage, &port_current, &drive}) {
    signal->shorten(share);
  }
  basis.shorten(share);
}

void Piece::make_part(double from, double share, Piece& part) const {
  part.length = length * share;
  part.basis.reset_to_part(basis, share);
  terminal_voltage.part(from, share, part.basis, part.terminal_voltage);
  terminal_current.part(from, share, part.basis, part.terminal_current);
  regulator_current.part(from, share, part.basis, part.regulator_current);
  port_voltage.part(from, share, part.basis, part.port_voltage);
}

// Currents that charge capacitors, from the change of their charge.
void Propagator::Work::add_charging(const Driving& driving, Piece& piece) const {
  // A change of mode may come at once; then there is no time for anything to charge.
  const double a_second = piece.length > 0 ? 1 / piece.length : 0;
  Signal uncharging;
  if (equations->lead_conductance > 0) uncharging = piece.port_current;
  for (const StateEquations::Charging& part : equations->charging) {
    const Signal& own = piece.states[part.state];
    piece.port_current.add_derivative(own, part.capacitance * a_second);
    if (part.leakage > 0) piece.port_current.add(own, part.leakage);
  }
  if (equations->sensed_wire > 0) lead_terminals(driving, a_second, piece);
  if (equations->lead_conductance > 0) refine_lead_current(driving, uncharging, a_second, piece);
  if (!equations->terminal_at_port) return;
  // A current that is imposed as it stands needs no sum.
  if (drive == Drive::Current && output_capacitance == 0) return;
  piece.terminal_current = piece.port_current;
  piece.terminal_current.add_derivative(piece.port_voltage, a_second * equations->port_capacitance);
  if (drive == Drive::Voltage || drive == Drive::SensedVoltage) {
    piece.regulator_current = piece.terminal_current;
    piece.regulator_current.add_line(output_capacitance * driving.slope, 0);
  }
}

// The load's side settles what the wire brings, and that the terminals.
void Propagator::Work::lead_terminals(const Driving& driving, double a_second, Piece& piece) const {
  const double wire = equations->sensed_wire;
  piece.terminal_current = piece.port_current;
  piece.terminal_current.add_derivative(piece.port_voltage, a_second * equations->port_capacitance);
  if (equations->compensates) {
    piece.terminal_voltage = piece.drive;
    piece.terminal_voltage.add(piece.port_current, wire);
    piece.terminal_voltage.add_line(wire * equations->port_capacitance * driving.slope, 0);
  } else {
    piece.terminal_voltage = piece.port_voltage;
    piece.terminal_voltage.add(piece.terminal_current, wire);
  }
  piece.regulator_current = piece.terminal_current;
  piece.regulator_current.add_derivative(piece.terminal_voltage, a_second * output_capacitance);
  if (equations->follows_terminal) piece.states[*equations->follows_terminal] = piece.terminal_voltage;
}

// The wire's current function by function: by the voltage across it, or by what the load takes and stores, whichever
// loses less to rounding.
void Propagator::Work::refine_lead_current(const Driving& driving, const Signal& uncharging, double a_second,
                                           Piece& piece) const {
  const Signal filling = piece.port_voltage.derivative().times(a_second * equations->port_capacitance);
  const Signal taken = piece.port_current.plus(filling);
  Weights weights = piece.terminal_current.weights();
  Weights sizes;
  sizes.assign(weights.size(), 0.0);
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
  piece.terminal_current = Signal(piece.basis, weights);
  if (drive == Drive::Voltage) {
    piece.regulator_current = piece.terminal_current.plus_line(output_capacitance * driving.slope, 0);
  }
}

}  // namespace rampart::circuit
