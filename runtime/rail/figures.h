#pragma once

#include <vector>

#include "runtime/circuit/circuit.h"
#include "runtime/circuit/roots.h"

namespace rampart {

// Neumaier's compensated addition: the error does not grow with the number of terms.
class Sum {
 public:
  void add(double term);
  [[nodiscard]] double value() const { return sum_ + lost_; }

 private:
  double sum_ = 0;
  double lost_ = 0;
};

// What adds up over time on one rail, in J, C and s.
struct RailSums {
  Sum energy;
  Sum returned;  // energy back into the terminals, positive
  Sum charge;
  Sum i2t;  // current squared, A^2 s
  Sum cc_time;
  Sum wire;
  std::vector<Sum> elements;
  std::vector<double> losses;  // room to work in

  explicit RailSums(std::size_t element_count) : elements(element_count) {}
  // Adds `times` as much as was added since `then`.
  void repeat_since(const RailSums& then, double times);
  // Adds `factor` times another's sums.
  void add(const RailSums& other, double factor);
  // All of them in one order.
  [[nodiscard]] std::vector<double> values() const;

 private:
  [[nodiscard]] std::vector<Sum*> all();
};

// Adds what happens during the circuit's present piece. Power integrals are exact: see integral_of_product().
void add_piece(const circuit::Circuit& circuit, RailSums& sums);

}  // namespace rampart
