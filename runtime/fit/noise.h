#pragma once

#include <span>
#include <vector>

#include "runtime/fit/least_squares.h"

namespace rampart::fit {

// How readings that follow each other go together: correlations at distances of 1, 2, … readings, as far as they are
// told apart from nothing (C. J. Geyer, "Practical Markov chain Monte Carlo", Statistical Science 7, 1992, section 3.3:
// sums of two neighbours, as long as they are above 0).
[[nodiscard]] std::vector<double> correlations(std::span<const double> residuals);

// Standard deviation that some far ones do not move: 1.4826 times the median of the magnitudes (P. J. Huber, E. M.
// Ronchetti, "Robust Statistics", 2009, section 5.1).
[[nodiscard]] double robust_deviation(std::vector<double> residuals);

// What noise adds to slopes' residuals, with its correlations: the middle of the sandwich of W. K. Newey and K. D. West
// ("A simple, positive semi-definite, heteroskedasticity and autocorrelation consistent covariance matrix",
// Econometrica 55, 1987) for noise that stays the same along a series. `first`, `count`: the rows of the series.
void add_noise(const Matrix& slopes, std::size_t first, std::span<const double> residuals, Matrix& sum);

}  // namespace rampart::fit
