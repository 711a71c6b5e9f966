#pragma once

#include <cmath>
#include <cstddef>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "runtime/circuit/weights.h"

// Quantities of a linear circuit between two instants: a polynomial in time plus decaying exponentials.
namespace rampart::circuit {

// The functions that all signals of one piece are sums of. Time runs from 0 to 1 over the piece.
// In this order: 1, t, ..., t^degree; one exp(-k t) a real pole; exp(-k t) cos(w t) and exp(-k t) sin(w t) a pair.
class Basis {
 public:
  struct Pole {
    double decay = 0;      // k
    double frequency = 0;  // w; 0: a real pole
  };

  void reset(std::size_t degree, std::span<const Pole> poles);
  // The same functions over the first part of the time, which again runs from 0 to 1; see Signal::shorten().
  void shorten(double share);
  // Those of `whole` over a part of its time that is a `share` of it, which again runs from 0 to 1; see Signal::part().
  void reset_to_part(const Basis& whole, double share);
  [[nodiscard]] std::size_t size() const { return size_; }
  [[nodiscard]] std::size_t degree() const { return degree_; }
  [[nodiscard]] const std::vector<Pole>& poles() const { return poles_; }
  // Where the functions of a pole begin.
  [[nodiscard]] std::size_t place_of(std::size_t pole) const { return places_[pole]; }
  // What is left at `t` of the functions of a pole: exp(-k t).
  [[nodiscard]] double envelope(std::size_t pole, double t) const {
    return t == 0 ? 1 : t == 1 ? ends_[pole] : std::exp(-poles_[pole].decay * t);
  }

  // Integrals from 0 to 1 of function a times each function; they are made at the first call.
  [[nodiscard]] std::span<const double> products(std::size_t a) const;
  // Integral from 0 to 1 of one function.
  [[nodiscard]] double integral(std::size_t a) const { return products(0)[a]; }

 private:
  void find_ends();
  void make_products() const;

  std::size_t degree_ = 0;
  std::size_t size_ = 1;
  std::vector<Pole> poles_;
  std::vector<std::size_t> places_;
  std::vector<double> ends_;              // of the envelopes
  mutable std::vector<double> products_;  // follow from the rest, and pieces that are cut never need them
};

struct Bounds {
  double low = 0;
  double high = 0;
};

// A sum of the functions of a basis, which must outlive it.
class Signal {
 public:
  Signal() = default;
  Signal(const Basis& basis, std::span<const double> weights)
      : basis_(&basis), weights_(weights.begin(), weights.end()) {}

  [[nodiscard]] const Basis& basis() const { return *basis_; }
  [[nodiscard]] const Weights& weights() const { return weights_; }
  [[nodiscard]] double value(double t) const;
  // From 0 to 1; of a signal that hardly moves not the difference of two values.
  [[nodiscard]] double change() const;
  // Limits that the signal keeps on [from, to]; not always reached. Those of the whole time are asked for by many.
  [[nodiscard]] Bounds bounds(double from, double to) const {
    if (from != 0 || to != 1) return bounds_within(from, to);
    if (!whole_) whole_ = bounds_within(0, 1);
    return *whole_;
  }
  [[nodiscard]] Signal derivative() const;
  // Sum of the magnitudes of its parts: what rounding is relative to.
  [[nodiscard]] double magnitude() const;
  // True if it is the same at all times.
  [[nodiscard]] bool is_constant() const;

  // Makes it a sum of the functions of another basis, all weights zero. Gives the weights to be filled.
  [[nodiscard]] Weights& restart(const Basis& basis);
  void add(const Signal& other, double factor = 1);
  void add_derivative(const Signal& other, double factor);
  void add_line(double value, double slope);
  // To be called for every signal of a basis that is shortened.
  void shorten(double share);

  // What it is over a part of its time, which begins at `from` and is a `share` of it, in the functions of that part.
  void part(double from, double share, const Basis& of_part, Signal& result) const;
  // value + slope * t
  [[nodiscard]] Signal plus_line(double value, double slope) const;
  [[nodiscard]] Signal times(double factor) const;
  [[nodiscard]] Signal plus(const Signal& other) const;
  [[nodiscard]] Signal minus(const Signal& other) const;

 private:
  [[nodiscard]] Bounds bounds_within(double from, double to) const;
  // To be called before each change.
  Weights& changed() {
    whole_.reset();
    return weights_;
  }

  const Basis* basis_ = nullptr;
  Weights weights_;
  mutable std::optional<Bounds> whole_;  // follows from the rest
};

// The values of two signals of one basis at one time.
[[nodiscard]] std::pair<double, double> values(const Signal& a, const Signal& b, double t);
// Integral from 0 to 1.
[[nodiscard]] double integral(const Signal& signal);
// Integral over the first `share` of the time.
[[nodiscard]] double integral_of_begin(const Signal& signal, double share);
// Integral over the last `share` of the time: not the difference of two.
[[nodiscard]] double integral_of_end(const Signal& signal, double share);
[[nodiscard]] double integral_of_product(const Signal& a, const Signal& b);

}  // namespace rampart::circuit
