#pragma once

#include <boost/container/small_vector.hpp>

namespace rampart::circuit {

// The weights of a signal. Signals are made and copied many times a piece, and what a network of a few parts needs
// takes no memory of its own.
using Weights = boost::container::small_vector<double, 8>;

}  // namespace rampart::circuit
