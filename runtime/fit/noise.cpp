#include "runtime/fit/noise.h"

#include <algorithm>
#include <cmath>

namespace rampart::fit {

std::vector<double> correlations(std::span<const double> residuals) {
  const std::size_t count = residuals.size();
  double all = 0;
  for (const double value : residuals) all += value * value;
  std::vector<double> result;
  if (count < 8 || all <= 0) return result;
  const auto at = [&](std::size_t distance) {
    double sum = 0;
    for (std::size_t i = 0; i + distance < count; ++i) sum += residuals[i] * residuals[i + distance];
    return sum / all * static_cast<double>(count) / static_cast<double>(count - distance);
  };
  // Pairs of neighbours begin with that of 0 and 1.
  const double first = at(1);
  if (1 + first <= 0) return result;
  result.push_back(first);
  for (std::size_t distance = 2; distance + 1 < count / 4; distance += 2) {
    const double even = at(distance);
    const double odd = at(distance + 1);
    if (even + odd <= 0) break;
    result.push_back(even);
    result.push_back(odd);
  }
  return result;
}

double robust_deviation(std::vector<double> residuals) {
  if (residuals.empty()) return 0;
  for (double& value : residuals) value = std::abs(value);
  const auto middle = residuals.begin() + static_cast<std::ptrdiff_t>(residuals.size() / 2);
  std::nth_element(residuals.begin(), middle, residuals.end());
  return 1.4826 * *middle;
}

void add_noise(const Matrix& slopes, std::size_t first, std::span<const double> residuals, Matrix& sum) {
  double square = 0;
  for (const double value : residuals) square += value * value;
  if (residuals.empty()) return;
  const double variance = square / static_cast<double>(residuals.size());
  const std::vector<double> rho = correlations(residuals);
  const std::size_t width = slopes.columns();
  for (std::size_t distance = 0; distance <= rho.size(); ++distance) {
    const double weight = variance * (distance == 0 ? 1 : rho[distance - 1]);
    for (std::size_t row = first; row + distance < first + residuals.size(); ++row) {
      for (std::size_t i = 0; i < width; ++i) {
        for (std::size_t k = 0; k < width; ++k) {
          const double one = slopes(row, i) * slopes(row + distance, k);
          sum(i, k) += weight * one;
          if (distance > 0) sum(k, i) += weight * one;
        }
      }
    }
  }
}

}  // namespace rampart::fit
