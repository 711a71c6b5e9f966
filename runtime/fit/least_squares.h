#pragma once

#include <cstddef>
#include <functional>
#include <vector>

namespace rampart::fit {

// A matrix of small size, row by row.
class Matrix {
 public:
  Matrix(std::size_t rows, std::size_t columns) : columns_(columns), values_(rows * columns, 0.0) {}
  [[nodiscard]] std::size_t rows() const { return columns_ == 0 ? 0 : values_.size() / columns_; }
  [[nodiscard]] std::size_t columns() const { return columns_; }
  double& operator()(std::size_t row, std::size_t column) { return values_[row * columns_ + column]; }
  double operator()(std::size_t row, std::size_t column) const { return values_[row * columns_ + column]; }

 private:
  std::size_t columns_;
  std::vector<double> values_;
};

// One parameter of a least squares problem.
struct Bounded {
  double start = 0;  // what it is as long as nothing is known
  double low = -1;
  double high = 1;
  double weight = 0;  // of its square in the sum, as what was known before says
  // It moves the residuals along a straight line, near enough: it is solved for along with each step of the others.
  bool is_linear = false;
  // The residuals jump with it: it moves once the others are where they are best without it.
  bool is_rough = false;
};

// Residuals, each in units of its own standard deviation, at given parameters, and their derivatives.
struct Linearised {
  std::vector<double> residuals;
  Matrix slopes{0, 0};  // a row a residual, a column a parameter
};
using Residuals = std::function<std::vector<double>(const std::vector<double>& at)>;
using Linearise = std::function<Linearised(const std::vector<double>& at)>;

struct Solution {
  std::vector<double> at;
  std::vector<bool> is_held;  // at a bound that it would go beyond
  Linearised linearised;
  int rounds = 0;
};

// The parameters within their bounds at which the squares of the residuals and what was known before sum to the least:
// Levenberg-Marquardt (D. W. Marquardt, "An algorithm for least-squares estimation of nonlinear parameters", J. SIAM
// 11, 1963), steps cut at the bounds. Linear parameters are projected out (G. H. Golub, V. Pereyra, "The
// differentiation of pseudo-inverses and nonlinear least squares problems whose variables separate", SIAM J. Numer.
// Anal. 10, 1973): a valley between a value and the gain of its meter would take the steps thousands of rounds.
// `from`: where it begins to look.
[[nodiscard]] Solution solve(const std::vector<Bounded>& parameters, const std::vector<double>& from,
                             const Residuals& residuals, const Linearise& linearise);

// Inverse of a symmetric positive definite matrix; rows and columns that are nothing stay so.
[[nodiscard]] Matrix inverse_of(const Matrix& matrix);
[[nodiscard]] Matrix product(const Matrix& a, const Matrix& b);
// slopes' slopes, the weights of what was known before added; of held parameters nothing.
[[nodiscard]] Matrix information(const Matrix& slopes, const std::vector<Bounded>& parameters,
                                 const std::vector<bool>& is_held);

}  // namespace rampart::fit
