#include "runtime/circuit/eigenbasis.h"

#include <Eigen/Dense>
#include <cmath>
#include <optional>

namespace rampart::circuit {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

// Eigenvectors nearer to each other than this cost more digits than driving their poles apart.
constexpr double kMaxCondition = 1e6;
constexpr double kSpread = 1e-5;
// A pair whose coupling is weaker does not share its eigenvectors.
constexpr double kCoupled = 1e-3;
// Poles smaller than this against the largest are zero.
constexpr double kZeroPole = 1e-16;

// The same as Eigenbasis while it is made.
struct Basis {
  MatrixXd to_states;
  MatrixXd to_modes;
  MatrixXd rates;
  std::vector<ModeBlock> blocks;
};

std::vector<double> stored(const MatrixXd& matrix) {
  return {matrix.data(), matrix.data() + matrix.size()};
}

std::optional<Basis> symmetric_basis(const MatrixXd& scaled, bool zero_pole) {
  const double scale = scaled.cwiseAbs().maxCoeff();
  if ((scaled - scaled.transpose()).cwiseAbs().maxCoeff() > 1e-13 * scale) return std::nullopt;
  const MatrixXd symmetric = (scaled + scaled.transpose()) / 2;
  const Eigen::SelfAdjointEigenSolver<MatrixXd> solver(symmetric);
  if (solver.info() != Eigen::Success) return std::nullopt;
  VectorXd values = solver.eigenvalues().cwiseMin(0.0);
  if (zero_pole) values(values.size() - 1) = 0;  // ascending: the last is nearest to zero
  Basis basis{solver.eigenvectors(), solver.eigenvectors().transpose(), values.asDiagonal(), {}};
  for (Eigen::Index i = 0; i < values.size(); ++i) {
    basis.blocks.push_back({static_cast<std::size_t>(i), 1, -values(i), 0});
  }
  return basis;
}

// Drives pairs of coinciding poles apart.
MatrixXd spread(const MatrixXd& rates) {
  const Eigen::RealSchur<MatrixXd> schur(rates);
  MatrixXd form = schur.matrixT();
  for (Eigen::Index i = 0; i + 1 < form.rows(); ++i) {
    const double mean = (form(i, i) + form(i + 1, i + 1)) / 2;
    const double half = (form(i, i) - form(i + 1, i + 1)) / 2;
    double& upper = form(i, i + 1);
    double& lower = form(i + 1, i);
    const double wanted = kSpread * mean * kSpread * mean;
    if (std::abs(half * half + upper * lower) >= wanted) continue;
    double& larger = std::abs(upper) >= std::abs(lower) ? upper : lower;
    double& smaller = &larger == &upper ? lower : upper;
    if (std::abs(larger) > kCoupled * std::abs(mean)) smaller = (wanted - half * half) / larger;
  }
  return schur.matrixU() * form * schur.matrixU().transpose();
}

double condition_of(const MatrixXd& matrix) {
  const Eigen::JacobiSVD<MatrixXd> parts(matrix);
  const auto& sizes = parts.singularValues();
  return sizes(0) / sizes(sizes.size() - 1);
}

Basis general_basis(const MatrixXd& scaled) {
  Eigen::EigenSolver<MatrixXd> solver(scaled);
  if (!(condition_of(solver.pseudoEigenvectors()) < kMaxCondition)) solver.compute(spread(scaled));
  const double norm = scaled.cwiseAbs().maxCoeff();
  Basis basis{solver.pseudoEigenvectors(), solver.pseudoEigenvectors().inverse(), solver.pseudoEigenvalueMatrix(), {}};
  for (Eigen::Index i = 0; i < scaled.rows();) {
    const auto pole = solver.eigenvalues()(i);
    if (pole.imag() != 0 && i + 1 < scaled.rows()) {
      basis.blocks.push_back({static_cast<std::size_t>(i), 2, -pole.real(), std::abs(pole.imag())});
      i += 2;
      continue;
    }
    // A passive network has no growing mode.
    const double decay = -pole.real() < kZeroPole * norm ? 0 : -pole.real();
    basis.rates(i, i) = -decay;
    basis.blocks.push_back({static_cast<std::size_t>(i), 1, decay, 0});
    ++i;
  }
  return basis;
}

}  // namespace

Eigenbasis eigenbasis_of(const std::vector<double>& rates, const std::vector<double>& storage, bool zero_pole) {
  const auto count = static_cast<Eigen::Index>(storage.size());
  // Weighted by the root of their energy, states are of one kind: networks with capacitors or inductors alone become
  // symmetric, and all others as nearly so as they can be.
  const VectorXd root = Eigen::Map<const VectorXd>(storage.data(), count).cwiseSqrt();
  const VectorXd inverse = root.cwiseInverse();
  const MatrixXd scaled =
      root.asDiagonal() * Eigen::Map<const MatrixXd>(rates.data(), count, count) * inverse.asDiagonal();
  const std::optional<Basis> found = symmetric_basis(scaled, zero_pole);
  const Basis basis = found ? *found : general_basis(scaled);
  return {stored(inverse.asDiagonal() * basis.to_states), stored(basis.to_modes * root.asDiagonal()),
          stored(basis.rates), basis.blocks};
}

}  // namespace rampart::circuit
