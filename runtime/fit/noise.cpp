#include "runtime/fit/noise.h"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

namespace rampart::fit {
namespace {

constexpr std::size_t kLeastReadings = 8;
// Terms of an autoregression.
constexpr std::size_t kMostTerms = 30;
// Correlations below this are nothing.
constexpr double kLeastCorrelation = 1e-3;

double sum_of_squares(std::span<const double> values) {
  return std::inner_product(values.begin(), values.end(), values.begin(), 0.0);
}

// A reading is the sum of the terms times the readings before it, and something new.
struct Autoregression {
  std::vector<double> terms;
  std::vector<double> correlations;  // at distances of 1 to as many as there are terms
};

// Each term more takes what the readings before tell of forward and backward errors alike; of all numbers of terms that
// one is kept whose error counts for least, each term at the logarithm of the readings.
Autoregression autoregression(std::span<const double> residuals) {
  const std::size_t count = residuals.size();
  std::vector<double> forward(residuals.begin(), residuals.end());
  std::vector<double> backward = forward;
  Autoregression now;
  Autoregression best;
  const double readings = static_cast<double>(count);
  double error = sum_of_squares(residuals) / readings;  // as a share of the variance
  const double whole = error;
  double least = readings * std::log(error);
  for (std::size_t m = 1; m <= std::min(kMostTerms, count / 4); ++m) {
    double together = 0;
    double squares = 0;
    for (std::size_t t = m; t < count; ++t) {
      together += forward[t] * backward[t - 1];
      squares += forward[t] * forward[t] + backward[t - 1] * backward[t - 1];
    }
    if (squares <= 0) break;
    const double reflection = 2 * together / squares;
    double correlation = reflection * error / whole;
    for (std::size_t i = 0; i + 1 < m; ++i) correlation += now.terms[i] * now.correlations[m - 2 - i];
    std::vector<double> terms = now.terms;
    for (std::size_t i = 0; i < now.terms.size(); ++i) {
      terms[i] -= reflection * now.terms[now.terms.size() - 1 - i];
    }
    terms.push_back(reflection);
    now.terms = std::move(terms);
    now.correlations.push_back(correlation);
    for (std::size_t t = count - 1; t >= m; --t) {
      const double ahead = forward[t];
      forward[t] -= reflection * backward[t - 1];
      backward[t] = backward[t - 1] - reflection * ahead;
    }
    error *= 1 - reflection * reflection;
    if (error <= 0) break;
    const double counted = readings * std::log(error) + static_cast<double>(m) * std::log(readings);
    if (counted >= least) continue;
    least = counted;
    best = now;
  }
  return best;
}

}  // namespace

double neighbour_correlation(std::span<const double> residuals) {
  const double all = sum_of_squares(residuals);
  if (residuals.size() < kLeastReadings || all <= 0) return 0;
  return std::inner_product(residuals.begin() + 1, residuals.end(), residuals.begin(), 0.0) / all;
}

std::vector<double> correlations(std::span<const double> residuals) {
  if (residuals.size() < kLeastReadings || sum_of_squares(residuals) <= 0) return {};
  const Autoregression regression = autoregression(residuals);
  const std::size_t terms = regression.terms.size();
  std::vector<double> result = regression.correlations;
  // Beyond its terms an autoregression goes on by itself, and dies away.
  std::size_t small = 0;
  while (terms > 0 && small < terms && result.size() < residuals.size() - 1) {
    double next = 0;
    for (std::size_t i = 0; i < terms; ++i) next += regression.terms[i] * result[result.size() - 1 - i];
    result.push_back(next);
    small = std::abs(next) < kLeastCorrelation ? small + 1 : 0;
  }
  return result;
}

double widening(const std::vector<double>& correlations) {
  return std::sqrt(std::max(0.0, 1 + 2 * std::accumulate(correlations.begin(), correlations.end(), 0.0)));
}

double robust_deviation(std::vector<double> residuals) {
  if (residuals.empty()) return 0;
  for (double& value : residuals) value = std::abs(value);
  const auto middle = residuals.begin() + static_cast<std::ptrdiff_t>(residuals.size() / 2);
  std::nth_element(residuals.begin(), middle, residuals.end());
  return 1.4826 * *middle;
}

void add_noise(const Matrix& slopes, std::size_t first, std::span<const double> residuals, Matrix& sum) {
  if (residuals.empty()) return;
  const double variance = sum_of_squares(residuals) / static_cast<double>(residuals.size());
  const std::vector<double> rho = correlations(residuals);
  const std::size_t width = slopes.columns();
  const std::size_t count = residuals.size();
  std::vector<double> together(count);
  for (std::size_t k = 0; k < width; ++k) {
    // The slopes of one parameter, each with those around it as far as their noise goes together.
    for (std::size_t row = 0; row < count; ++row) {
      double all = slopes(first + row, k);
      for (std::size_t distance = 1; distance <= rho.size(); ++distance) {
        const double before = row >= distance ? slopes(first + row - distance, k) : 0;
        const double after = row + distance < count ? slopes(first + row + distance, k) : 0;
        all += rho[distance - 1] * (before + after);
      }
      together[row] = variance * all;
    }
    for (std::size_t i = 0; i < width; ++i) {
      for (std::size_t row = 0; row < count; ++row) sum(i, k) += slopes(first + row, i) * together[row];
    }
  }
}

}  // namespace rampart::fit
