#pragma once

#include <span>
#include <vector>

#include "runtime/fit/least_squares.h"

namespace rampart::fit {

// The correlation of a reading with the one before.
[[nodiscard]] double neighbour_correlation(std::span<const double> residuals);

// How readings that follow each other go together: correlations at distances of 1, 2, … readings, until they are gone.
// They are those of an autoregression (J. P. Burg, "Maximum entropy spectral analysis", Stanford, 1975), which has as
// many terms as the readings tell (the Bayesian information criterion: "Estimating the dimension of a model", Annals of
// Statistics 6, 1978): none where nothing tells them from independent ones. Sums of correlations that were counted out
// one by one lose what lies beyond some distance (D. W. K. Andrews, J. C. Monahan, Econometrica 60, 1992). All from
// memory.
[[nodiscard]] std::vector<double> correlations(std::span<const double> residuals);

// By how much such correlations widen the standard error of a mean: the readings count as so many fewer as this
// squared.
[[nodiscard]] double widening(const std::vector<double>& correlations);

// Standard deviation that some far ones do not move: 1.4826 times the median of the magnitudes (P. J. Huber, E. M.
// Ronchetti, "Robust Statistics", 2009, section 5.1).
[[nodiscard]] double robust_deviation(std::vector<double> residuals);

// What noise adds to slopes' residuals, with its correlations: the middle of the sandwich of W. K. Newey and K. D. West
// ("A simple, positive semi-definite, heteroskedasticity and autocorrelation consistent covariance matrix",
// Econometrica 55, 1987) for noise that stays the same along a series. `first`: the row of the first residual.
void add_noise(const Matrix& slopes, std::size_t first, std::span<const double> residuals, Matrix& sum);

}  // namespace rampart::fit
