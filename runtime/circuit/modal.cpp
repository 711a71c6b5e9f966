#include "runtime/circuit/modal.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

namespace rampart::circuit {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

// Modes with a smaller product of decay and length are given by their series.
constexpr double kSlow = 0.3;
constexpr double kRounding = 1e-15;
// 0.5^17 / 17! is below 1e-19.
constexpr std::size_t kMaxDegree = 16;
constexpr double kSeriesReach = 0.5;
// Above this the eigenvectors cost more digits than the results may lose.
constexpr double kMaxCondition = 1e5;

// One mode, or a pair of them: d(z)/dt = matrix z + input.
struct Block {
  std::size_t first = 0;
  std::size_t size = 1;
  double decay = 0;
  double frequency = 0;
};

}  // namespace

struct Propagator::Work {
  std::size_t count = 0;
  MatrixXd rates;    // d(x)/dt = rates x + inputs (drive, slope, 1)
  MatrixXd inputs;   // one column each
  MatrixXd outputs;  // terminal voltage, terminal and regulator current, port voltage and current
  MatrixXd output_inputs;
  std::optional<std::size_t> imposed;
  bool modal = true;
  MatrixXd to_states;  // eigenvectors, real; two columns a pair
  MatrixXd to_modes;
  MatrixXd mode_rates;  // block diagonal
  MatrixXd mode_inputs;
  std::vector<Block> blocks;
  double norm = 0;

  void diagonalise(const VectorXd& storage, bool keeps_charge);
  bool diagonalise_symmetric(const VectorXd& storage, bool keeps_charge);
  bool diagonalise_general();
  void keep_whole();
};

namespace {

constexpr Eigen::Index kOutputs = 5;

void put(MatrixXd& matrix, MatrixXd& inputs, Eigen::Index row, const Form& form) {
  for (std::size_t i = 0; i < form.state.size(); ++i) matrix(row, static_cast<Eigen::Index>(i)) = form.state[i];
  inputs(row, 0) = form.drive;
  inputs(row, 1) = form.slope;
  inputs(row, 2) = form.constant;
}

}  // namespace

bool Propagator::Work::diagonalise_symmetric(const VectorXd& storage, bool keeps_charge) {
  // Networks with one kind of storage are symmetric once each state is weighted by the root of its energy.
  const VectorXd root = storage.cwiseSqrt();
  const MatrixXd symmetric = root.asDiagonal() * rates * root.cwiseInverse().asDiagonal();
  const double scale = symmetric.cwiseAbs().maxCoeff();
  if ((symmetric - symmetric.transpose()).cwiseAbs().maxCoeff() > 1e-13 * scale) return false;
  const Eigen::SelfAdjointEigenSolver<MatrixXd> solver((symmetric + symmetric.transpose()) / 2);
  if (solver.info() != Eigen::Success) return false;
  VectorXd values = solver.eigenvalues().cwiseMin(0.0);
  if (keeps_charge) values(values.size() - 1) = 0;  // ascending: the last is nearest to zero
  to_states = root.cwiseInverse().asDiagonal() * solver.eigenvectors();
  to_modes = solver.eigenvectors().transpose() * root.asDiagonal();
  mode_rates = values.asDiagonal();
  blocks.clear();
  for (std::size_t i = 0; i < count; ++i) blocks.push_back({i, 1, -values(static_cast<Eigen::Index>(i)), 0});
  return true;
}

bool Propagator::Work::diagonalise_general() {
  const Eigen::EigenSolver<MatrixXd> solver(rates);
  if (solver.info() != Eigen::Success) return false;
  to_states = solver.pseudoEigenvectors();
  mode_rates = solver.pseudoEigenvalueMatrix();
  for (Eigen::Index i = 0; i < to_states.cols(); ++i) {
    const double length = to_states.col(i).norm();
    if (!(length > 0)) return false;
  }
  const Eigen::JacobiSVD<MatrixXd> parts(to_states);
  const auto& sizes = parts.singularValues();
  if (!(sizes(sizes.size() - 1) * kMaxCondition > sizes(0))) return false;
  to_modes = to_states.inverse();
  blocks.clear();
  for (std::size_t i = 0; i < count;) {
    const auto at = static_cast<Eigen::Index>(i);
    const double imaginary = solver.eigenvalues()(at).imag();
    const double decay = -solver.eigenvalues()(at).real();
    if (imaginary != 0 && i + 1 < count) {
      blocks.push_back({i, 2, decay, std::abs(imaginary)});
      i += 2;
    } else {
      // Rounding may leave a pole that should be zero on either side of it.
      const double clean = std::abs(decay) < 1e-15 * norm ? 0 : decay;
      mode_rates(at, at) = -clean;
      blocks.push_back({i, 1, clean, 0});
      ++i;
    }
  }
  return true;
}

void Propagator::Work::keep_whole() {
  modal = false;
  to_states = MatrixXd::Identity(rates.rows(), rates.cols());
  to_modes = to_states;
  mode_rates = rates;
  blocks = {{0, count, 0, 0}};
}

void Propagator::Work::diagonalise(const VectorXd& storage, bool keeps_charge) {
  // An imposed state has no way of its own: its row is the slope of the drive.
  norm = rates.cwiseAbs().rowwise().sum().maxCoeff();
  if (!diagonalise_symmetric(storage, keeps_charge) && !diagonalise_general()) keep_whole();
  mode_inputs = to_modes * inputs;
}

Propagator::Propagator(const Network& network, Drive drive) : work_(std::make_unique<Work>()) {
  Work& work = *work_;
  const StateEquations& equations = network.equations(drive);
  work.count = network.state_count();
  const auto count = static_cast<Eigen::Index>(work.count);
  work.rates.setZero(count, count);
  work.inputs.setZero(count, 3);
  work.outputs.setZero(kOutputs, count);
  work.output_inputs.setZero(kOutputs, 3);
  for (Eigen::Index i = 0; i < count; ++i) {
    put(work.rates, work.inputs, i, equations.rates[static_cast<std::size_t>(i)]);
  }
  put(work.outputs, work.output_inputs, 0, equations.terminal_voltage);
  put(work.outputs, work.output_inputs, 1, equations.terminal_current);
  put(work.outputs, work.output_inputs, 2, equations.regulator_current);
  put(work.outputs, work.output_inputs, 3, equations.port_voltage);
  put(work.outputs, work.output_inputs, 4, equations.port_current);
  work.imposed = equations.imposed;
  if (count > 0) {
    const VectorXd storage = Eigen::Map<const VectorXd>(network.storage().data(), count);
    work.diagonalise(storage, network.keeps_charge() && (drive == Drive::Current || drive == Drive::Off) &&
                                  !(drive == Drive::Off && network.parts().off_resistance));
  }
}

Propagator::~Propagator() = default;
Propagator::Propagator(Propagator&&) noexcept = default;
Propagator& Propagator::operator=(Propagator&&) noexcept = default;

double Propagator::longest_piece(const std::vector<double>& state, const Driving& driving) const {
  static_cast<void>(state);
  static_cast<void>(driving);
  if (work_->modal || work_->norm == 0) return std::numeric_limits<double>::infinity();
  return kSeriesReach / work_->norm;
}

namespace {

// Weights of the modes' signals: one row a mode, one column a function of the basis.
struct ModeWeights {
  std::vector<std::vector<double>> polynomial;
  std::size_t degree = 1;
};

// The series of z' = matrix z + constant + slope t, in t over the piece (all times are shares of it).
void series(const MatrixXd& matrix, const VectorXd& start, const VectorXd& constant, const VectorXd& slope,
            std::size_t first, ModeWeights& weights) {
  VectorXd term = start;
  const double scale = start.cwiseAbs().sum() + constant.cwiseAbs().sum() + slope.cwiseAbs().sum();
  for (std::size_t n = 0; n <= kMaxDegree; ++n) {
    for (Eigen::Index i = 0; i < term.size(); ++i) {
      auto& row = weights.polynomial[first + static_cast<std::size_t>(i)];
      if (row.size() <= n) row.resize(n + 1, 0.0);
      row[n] = term(i);
    }
    weights.degree = std::max(weights.degree, n);
    VectorXd next = matrix * term;
    if (n == 0) next += constant;
    if (n == 1) next += slope;
    term = next / static_cast<double>(n + 1);
    if (n >= 1 && term.cwiseAbs().sum() <= 1e-19 * scale) break;
  }
}

}  // namespace

void Propagator::solve(const std::vector<double>& state, const Driving& driving, double length, Piece& piece) const {
  const Work& work = *work_;
  const auto count = static_cast<Eigen::Index>(work.count);
  piece.length = length;
  VectorXd start = Eigen::Map<const VectorXd>(state.data(), count);
  if (work.imposed) start(static_cast<Eigen::Index>(*work.imposed)) = driving.value;
  const VectorXd modes = work.to_modes * start;
  const VectorXd constant = length * (work.mode_inputs * Eigen::Vector3d(driving.value, driving.slope, 1.0));
  const VectorXd slope = (length * length * driving.slope) * work.mode_inputs.col(0);

  ModeWeights weights;
  weights.polynomial.assign(work.count, {});
  std::vector<Basis::Pole> poles;
  struct Decay {
    std::size_t mode;
    std::size_t pole;
    double cosine;
    double sine;
  };
  std::vector<Decay> decays;
  for (const Block& block : work.blocks) {
    const auto first = static_cast<Eigen::Index>(block.first);
    const auto size = static_cast<Eigen::Index>(block.size);
    const MatrixXd matrix = length * work.mode_rates.block(first, first, size, size);
    const VectorXd z = modes.segment(first, size);
    const VectorXd a = constant.segment(first, size);
    const VectorXd b = slope.segment(first, size);
    if (!work.modal || std::hypot(block.decay, block.frequency) * length < kSlow) {
      series(matrix, z, a, b, block.first, weights);
      continue;
    }
    const MatrixXd inverse = matrix.inverse();
    const VectorXd q = -(inverse * b);
    const VectorXd p = inverse * (q - a);
    const VectorXd r = z - p;
    for (Eigen::Index i = 0; i < size; ++i) {
      weights.polynomial[block.first + static_cast<std::size_t>(i)] = {p(i), q(i)};
    }
    poles.push_back({block.decay * length, block.frequency * length});
    if (size == 1) {
      decays.push_back({block.first, poles.size() - 1, r(0), 0});
    } else {
      // exp(M t) r = exp(-k t) (r cos w t + (M + k) r / w sin w t)
      const VectorXd turned = (matrix * r + block.decay * length * r) / (block.frequency * length);
      decays.push_back({block.first, poles.size() - 1, r(0), turned(0)});
      decays.push_back({block.first + 1, poles.size() - 1, r(1), turned(1)});
    }
  }

  piece.basis.reset(weights.degree, std::move(poles));
  const auto size = static_cast<Eigen::Index>(piece.basis.size());
  MatrixXd mode_signals = MatrixXd::Zero(count, size);
  for (std::size_t mode = 0; mode < work.count; ++mode) {
    for (std::size_t n = 0; n < weights.polynomial[mode].size(); ++n) {
      mode_signals(static_cast<Eigen::Index>(mode), static_cast<Eigen::Index>(n)) = weights.polynomial[mode][n];
    }
  }
  for (const Decay& decay : decays) {
    const auto place = static_cast<Eigen::Index>(piece.basis.place_of(decay.pole));
    mode_signals(static_cast<Eigen::Index>(decay.mode), place) = decay.cosine;
    if (piece.basis.poles()[decay.pole].frequency != 0) {
      mode_signals(static_cast<Eigen::Index>(decay.mode), place + 1) = decay.sine;
    }
  }
  MatrixXd states = work.to_states * mode_signals;
  if (work.imposed) {
    const auto row = static_cast<Eigen::Index>(*work.imposed);
    states.row(row).setZero();
    states(row, 0) = driving.value;
    states(row, 1) = driving.slope * length;
  }
  MatrixXd outputs = work.outputs * states;
  outputs.col(0) += work.output_inputs * Eigen::Vector3d(driving.value, driving.slope, 1.0);
  outputs.col(1) += work.output_inputs.col(0) * (driving.slope * length);

  // What is left where large parts cancel is rounding: a settled current through a small resistance would carry it on.
  const MatrixXd sizes = (work.outputs.cwiseAbs() * states.cwiseAbs()).eval();
  for (Eigen::Index row = 0; row < outputs.rows(); ++row) {
    for (Eigen::Index i = 0; i < size; ++i) {
      double largest = sizes(row, i);
      if (i == 0) largest += std::abs(work.output_inputs(row, 0) * driving.value);
      if (std::abs(outputs(row, i)) < kRounding * largest) outputs(row, i) = 0;
    }
  }

  const auto signal = [&](const MatrixXd& rows, Eigen::Index row) {
    std::vector<double> values(piece.basis.size());
    for (Eigen::Index i = 0; i < size; ++i) values[static_cast<std::size_t>(i)] = rows(row, i);
    return Signal(piece.basis, std::move(values));
  };
  piece.states.clear();
  for (Eigen::Index i = 0; i < count; ++i) piece.states.push_back(signal(states, i));
  piece.terminal_voltage = signal(outputs, 0);
  piece.terminal_current = signal(outputs, 1);
  piece.regulator_current = signal(outputs, 2);
  piece.port_voltage = signal(outputs, 3);
  piece.port_current = signal(outputs, 4);
  std::vector<double> line(piece.basis.size(), 0.0);
  line[0] = driving.value;
  line[1] = driving.slope * length;
  piece.drive = Signal(piece.basis, std::move(line));
}

}  // namespace rampart::circuit
