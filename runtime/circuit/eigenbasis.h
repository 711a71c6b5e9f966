#pragma once

#include <cstddef>
#include <vector>

// The eigenbasis of a small passive network. Matrices are square and stored by columns.
namespace rampart::circuit {

// One mode, or a pair of them with complex poles: d(z)/dt = matrix z.
struct ModeBlock {
  std::size_t first = 0;
  std::size_t size = 1;
  double decay = 0;      // 1/s
  double frequency = 0;  // 1/s; 0: a real pole
};

struct Eigenbasis {
  std::vector<double> to_states;  // real; two columns a pair
  std::vector<double> to_modes;
  std::vector<double> rates;  // block diagonal
  std::vector<ModeBlock> blocks;
};

// Of d(x)/dt = rates x, where half of storage times x squared is the energy of each state. `zero_pole`: the network has
// one pole at exactly zero, which rounding must not move.
//
// Where poles coincide, eigenvectors do too. Such a pair is driven apart by 1e-5 of its size, by a change of 1e-10 in
// one coupling: both the change and the rounding through the eigenvectors then stay near 1e-11.
[[nodiscard]] Eigenbasis eigenbasis_of(const std::vector<long double>& rates, const std::vector<double>& storage,
                                       bool zero_pole);

}  // namespace rampart::circuit
