#include "runtime/circuit/eigenbasis.h"

#include <Eigen/Dense>
#include <cmath>
#include <optional>

// Finds coordinates in which the states of a linear network do not see each other.
//
// With the states scaled by the square roots of their capacitances and inductances, half the sum of their squares is
// the stored energy. A network of resistors and one kind of store then has a symmetric matrix: its eigenvectors are at
// right angles, its poles are real and not above zero, and nothing is lost in going to the modes and back
// (symmetric_basis). Capacitors together with coils give a general matrix with pairs of complex poles, each kept as a
// real block of two (general_basis). There eigenvectors may nearly coincide, as in critical damping, and the way to the
// modes and back would multiply rounding by their condition. Above kMaxCondition such a pair of poles is driven apart
// by kSpread of its size, which takes a change of the matrix of the square of that (spread).
//
// All of it in long double: a pole is known to rounding against the fastest one, and poles of a bench lie nine decades
// apart.
namespace rampart::circuit {
namespace {

using Real = long double;
using MatrixXl = Eigen::Matrix<Real, Eigen::Dynamic, Eigen::Dynamic>;
using VectorXl = Eigen::Matrix<Real, Eigen::Dynamic, 1>;

// Eigenvectors nearer to each other than this cost more digits than driving their poles apart.
constexpr double kMaxCondition = 1e6;
constexpr double kSpread = 1e-5;
// A pair whose coupling is weaker does not share its eigenvectors.
constexpr double kCoupled = 1e-3;
// Poles smaller than this against the largest are zero.
constexpr double kZeroPole = 1e-16;

// An Eigenbasis in long double.
struct Basis {
  MatrixXl to_states;
  MatrixXl to_modes;
  MatrixXl rates;
  std::vector<ModeBlock> blocks;
};

std::vector<double> stored(const MatrixXl& matrix) {
  const Eigen::MatrixXd rounded = matrix.cast<double>();
  return {rounded.data(), rounded.data() + rounded.size()};
}

std::optional<Basis> symmetric_basis(const MatrixXl& scaled, bool zero_pole) {
  const Real scale = scaled.cwiseAbs().maxCoeff();
  if ((scaled - scaled.transpose()).cwiseAbs().maxCoeff() > 1e-13 * scale) return std::nullopt;
  const MatrixXl symmetric = (scaled + scaled.transpose()) / 2;
  const Eigen::SelfAdjointEigenSolver<MatrixXl> solver(symmetric);
  if (solver.info() != Eigen::Success) return std::nullopt;
  VectorXl values = solver.eigenvalues().cwiseMin(Real(0));
  if (zero_pole) values(values.size() - 1) = 0;  // ascending: the last is nearest to zero
  Basis basis{solver.eigenvectors(), solver.eigenvectors().transpose(), values.asDiagonal(), {}};
  for (Eigen::Index i = 0; i < values.size(); ++i) {
    basis.blocks.push_back({static_cast<std::size_t>(i), 1, static_cast<double>(-values(i)), 0});
  }
  return basis;
}

// Drives pairs of coinciding poles apart.
MatrixXl spread(const MatrixXl& rates) {
  const Eigen::RealSchur<MatrixXl> schur(rates);
  MatrixXl form = schur.matrixT();
  for (Eigen::Index i = 0; i + 1 < form.rows(); ++i) {
    const Real mean = (form(i, i) + form(i + 1, i + 1)) / 2;
    const Real half = (form(i, i) - form(i + 1, i + 1)) / 2;
    Real& upper = form(i, i + 1);
    Real& lower = form(i + 1, i);
    const Real wanted = kSpread * mean * kSpread * mean;
    if (std::abs(half * half + upper * lower) >= wanted) continue;
    Real& larger = std::abs(upper) >= std::abs(lower) ? upper : lower;
    Real& smaller = &larger == &upper ? lower : upper;
    if (std::abs(larger) > kCoupled * std::abs(mean)) smaller = (wanted - half * half) / larger;
  }
  return schur.matrixU() * form * schur.matrixU().transpose();
}

Real condition_of(const MatrixXl& matrix) {
  const Eigen::JacobiSVD<MatrixXl> parts(matrix);
  const auto& sizes = parts.singularValues();
  return sizes(0) / sizes(sizes.size() - 1);
}

Basis general_basis(const MatrixXl& scaled) {
  Eigen::EigenSolver<MatrixXl> solver(scaled);
  if (!(condition_of(solver.pseudoEigenvectors()) < kMaxCondition)) solver.compute(spread(scaled));
  const Real norm = scaled.cwiseAbs().maxCoeff();
  Basis basis{solver.pseudoEigenvectors(), solver.pseudoEigenvectors().inverse(), solver.pseudoEigenvalueMatrix(), {}};
  for (Eigen::Index i = 0; i < scaled.rows();) {
    const auto pole = solver.eigenvalues()(i);
    if (pole.imag() != 0 && i + 1 < scaled.rows()) {
      basis.blocks.push_back({static_cast<std::size_t>(i), 2, static_cast<double>(-pole.real()),
                              static_cast<double>(std::abs(pole.imag()))});
      i += 2;
      continue;
    }
    // A passive network has no growing mode.
    const Real decay = -pole.real() < kZeroPole * norm ? Real(0) : -pole.real();
    basis.rates(i, i) = -decay;
    basis.blocks.push_back({static_cast<std::size_t>(i), 1, static_cast<double>(decay), 0});
    ++i;
  }
  return basis;
}

}  // namespace

Eigenbasis eigenbasis_of(const std::vector<Real>& rates, const std::vector<double>& storage, bool zero_pole) {
  const auto count = static_cast<Eigen::Index>(storage.size());
  // Weighted by the root of their energy, states are of one kind: networks with capacitors or inductors alone become
  // symmetric, and all others as nearly so as they can be.
  const VectorXl root = Eigen::Map<const Eigen::VectorXd>(storage.data(), count).cast<Real>().cwiseSqrt();
  const VectorXl inverse = root.cwiseInverse();
  const MatrixXl scaled =
      root.asDiagonal() * Eigen::Map<const MatrixXl>(rates.data(), count, count) * inverse.asDiagonal();
  const std::optional<Basis> found = symmetric_basis(scaled, zero_pole);
  const Basis basis = found ? *found : general_basis(scaled);
  return {stored(inverse.asDiagonal() * basis.to_states), stored(basis.to_modes * root.asDiagonal()),
          stored(basis.rates), basis.blocks};
}

}  // namespace rampart::circuit
