#include "runtime/circuit/state_slopes.h"

#include <Eigen/Dense>

namespace rampart::circuit {
namespace {

using Complex = std::complex<double>;
constexpr int kMostUnknowns = 3;
using CoreMatrix = Eigen::Matrix<Complex, Eigen::Dynamic, Eigen::Dynamic, 0, kMostUnknowns, kMostUnknowns>;
using CoreVector = Eigen::Matrix<Complex, Eigen::Dynamic, 1, 0, kMostUnknowns, 1>;

}  // namespace

void StateSlopes::reset(std::size_t states) {
  own.assign(states, 0.0);
  by_port.assign(states, 0.0);
  port.assign(states, 0.0);
  rows.clear();
}

std::vector<double>& StateSlopes::add_row(std::size_t state) {
  rows.push_back({state, std::vector<double>(own.size(), 0.0)});
  return rows.back().slopes;
}

void StateSlopes::multiply(const double* x, double* result) const {
  double volts = 0;
  for (std::size_t i = 0; i < port.size(); ++i) volts += port[i] * x[i];
  for (std::size_t i = 0; i < own.size(); ++i) result[i] = own[i] * x[i] + by_port[i] * volts;
  for (const Row& row : rows) {
    double sum = 0;
    for (std::size_t i = 0; i < row.slopes.size(); ++i) sum += row.slopes[i] * x[i];
    result[row.state] = sum;
  }
}

// The unknowns are V and then the states of the rows.
struct ShiftedSlopes::Core {
  Eigen::PartialPivLU<CoreMatrix> solver;
};

ShiftedSlopes::ShiftedSlopes() : core_(std::make_unique<Core>()) {}
ShiftedSlopes::~ShiftedSlopes() = default;

void ShiftedSlopes::prepare(const StateSlopes& slopes, Complex m) {
  slopes_ = &slopes;
  m_ = m;
  const std::size_t count = slopes.own.size();
  inverse_.resize(count);
  by_port_.resize(count);
  for (std::size_t i = 0; i < count; ++i) {
    inverse_[i] = 1.0 / (1.0 - m * slopes.own[i]);
    by_port_[i] = m * slopes.by_port[i] * inverse_[i];
  }
  // A state with a row of its own is an unknown and follows from nothing else.
  for (const StateSlopes::Row& row : slopes.rows) inverse_[row.state] = by_port_[row.state] = 0;
  const auto unknowns = static_cast<Eigen::Index>(slopes.rows.size() + 1);
  CoreMatrix matrix = CoreMatrix::Identity(unknowns, unknowns);
  for (std::size_t i = 0; i < count; ++i) matrix(0, 0) -= slopes.port[i] * by_port_[i];
  for (Eigen::Index k = 1; k < unknowns; ++k) {
    const StateSlopes::Row& row = slopes.rows[static_cast<std::size_t>(k - 1)];
    matrix(0, k) -= slopes.port[row.state];
    for (std::size_t i = 0; i < count; ++i) matrix(k, 0) -= m * row.slopes[i] * by_port_[i];
    for (Eigen::Index other = 1; other < unknowns; ++other) {
      matrix(k, other) -= m * row.slopes[slopes.rows[static_cast<std::size_t>(other - 1)].state];
    }
  }
  core_->solver.compute(matrix);
}

void ShiftedSlopes::solve(Complex* values) const {
  const std::size_t count = inverse_.size();
  const auto unknowns = static_cast<Eigen::Index>(slopes_->rows.size() + 1);
  CoreVector right(unknowns);
  right(0) = 0;
  for (std::size_t i = 0; i < count; ++i) right(0) += slopes_->port[i] * inverse_[i] * values[i];
  for (Eigen::Index k = 1; k < unknowns; ++k) {
    const StateSlopes::Row& row = slopes_->rows[static_cast<std::size_t>(k - 1)];
    Complex sum = 0;
    for (std::size_t i = 0; i < count; ++i) sum += row.slopes[i] * inverse_[i] * values[i];
    right(k) = values[row.state] + m_ * sum;
  }
  const CoreVector found = core_->solver.solve(right);
  for (std::size_t i = 0; i < count; ++i) values[i] = inverse_[i] * values[i] + by_port_[i] * found(0);
  for (Eigen::Index k = 1; k < unknowns; ++k) {
    values[slopes_->rows[static_cast<std::size_t>(k - 1)].state] = found(k);
  }
}

}  // namespace rampart::circuit
