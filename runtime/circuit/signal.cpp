#include "runtime/circuit/signal.h"

#include <algorithm>
#include <cmath>
#include <complex>

namespace rampart::circuit {
namespace {

using Complex = std::complex<double>;

// Gives take(n, integral of t^n exp(-k t) from 0 to 1) for n = 0 ... last, in either order.
//
// Upwards the recursion I(n) = (n I(n-1) - exp(-k)) / k cancels where k is small against n; there the highest one is
// taken from the series exp(-k) sum k^m / ((n+1) ... (n+1+m)) and the recursion runs downwards.
template <class Take>
void moments(Complex k, std::size_t last, const Take& take) {
  const Complex end = std::exp(-k);
  if (std::abs(k) > static_cast<double>(last) + 8) {
    Complex moment = (1.0 - end) / k;
    take(std::size_t{0}, moment);
    for (std::size_t n = 1; n <= last; ++n) {
      moment = (static_cast<double>(n) * moment - end) / k;
      take(n, moment);
    }
    return;
  }
  Complex term = end / static_cast<double>(last + 1);
  Complex sum = term;
  const double scale = std::abs(term);
  for (std::size_t m = 1; m < 200 && std::abs(term) > 1e-18 * std::max(scale, std::abs(sum)); ++m) {
    term *= k / static_cast<double>(last + 1 + m);
    sum += term;
  }
  take(last, sum);
  for (std::size_t n = last; n > 0; --n) {
    sum = (k * sum + end) / static_cast<double>(n);
    take(n - 1, sum);
  }
}

// Integral of exp(-k t) from 0 to 1.
Complex decay_integral(Complex k) {
  if (k.imag() == 0) return k.real() == 0 ? 1.0 : -std::expm1(-k.real()) / k.real();
  return (1.0 - std::exp(-k)) / k;
}

Complex pole_value(const Basis::Pole& pole) {
  // exp(-k t) (cos w t + i sin w t)
  return {pole.decay, -pole.frequency};
}

}  // namespace

void Basis::reset(std::size_t degree, std::span<const Pole> poles) {
  degree_ = degree;
  poles_.assign(poles.begin(), poles.end());
  places_.clear();
  size_ = degree + 1;
  for (const Pole& pole : poles_) {
    places_.push_back(size_);
    size_ += pole.frequency == 0 ? 1 : 2;
  }
  find_ends();
}

void Basis::shorten(double share) {
  for (Pole& pole : poles_) pole = {pole.decay * share, pole.frequency * share};
  find_ends();
}

void Basis::find_ends() {
  ends_.clear();
  for (const Pole& pole : poles_) ends_.push_back(std::exp(-pole.decay));
  products_.clear();
}

void Basis::reset_to_part(const Basis& whole, double share) {
  reset(whole.degree_, whole.poles_);
  shorten(share);
}

std::span<const double> Basis::products(std::size_t a) const {
  if (products_.empty()) make_products();
  return {products_.data() + a * size_, size_};
}

void Basis::make_products() const {
  products_.assign(size_ * size_, 0.0);
  const auto set = [&](std::size_t a, std::size_t b, double value) {
    products_[a * size_ + b] = value;
    products_[b * size_ + a] = value;
  };
  for (std::size_t n = 0; n <= degree_; ++n) {
    for (std::size_t m = n; m <= degree_; ++m) set(n, m, 1.0 / static_cast<double>(n + m + 1));
  }
  for (std::size_t j = 0; j < poles_.size(); ++j) {
    const Complex k = pole_value(poles_[j]);
    moments(k, degree_, [&](std::size_t n, Complex moment) {
      set(n, places_[j], moment.real());
      if (poles_[j].frequency != 0) set(n, places_[j] + 1, moment.imag());
    });
    for (std::size_t i = 0; i <= j; ++i) {
      const Complex other = pole_value(poles_[i]);
      if (k.imag() == 0 && other.imag() == 0) {
        set(i == j ? places_[j] : places_[i], places_[j], decay_integral(k + other).real());
        continue;
      }
      // Re a Re b = Re(a b + a b*) / 2, and alike for the other three.
      const Complex sum = decay_integral(k + other);
      const Complex difference = decay_integral(k + std::conj(other));
      set(places_[i], places_[j], (sum.real() + difference.real()) / 2);
      const bool own = poles_[j].frequency != 0;
      const bool others = poles_[i].frequency != 0;
      if (own) set(places_[i], places_[j] + 1, (sum.imag() + difference.imag()) / 2);
      if (others) set(places_[i] + 1, places_[j], (sum.imag() - difference.imag()) / 2);
      if (own && others) set(places_[i] + 1, places_[j] + 1, (difference.real() - sum.real()) / 2);
    }
  }
}

double Signal::change() const {
  double sum = 0;
  for (std::size_t n = basis_->degree(); n > 0; --n) sum += weights_[n];
  for (std::size_t j = 0; j < basis_->poles().size(); ++j) {
    const Basis::Pole& pole = basis_->poles()[j];
    const std::size_t place = basis_->place_of(j);
    const double faded = std::expm1(-pole.decay);
    sum += weights_[place] * faded;
    if (pole.frequency == 0) continue;
    // cos w - 1 = -2 sin^2(w / 2)
    const double half = std::sin(pole.frequency / 2);
    const double envelope = 1 + faded;
    sum += envelope * (weights_[place + 1] * std::sin(pole.frequency) - 2 * weights_[place] * half * half);
  }
  return sum;
}

double Signal::value(double t) const {
  const double* const weights = weights_.data();
  double sum = 0;
  for (std::size_t n = basis_->degree() + 1; n-- > 0;) sum = sum * t + weights[n];
  for (std::size_t j = 0; j < basis_->poles().size(); ++j) {
    const Basis::Pole& pole = basis_->poles()[j];
    const std::size_t place = basis_->place_of(j);
    const double envelope = basis_->envelope(j, t);
    if (pole.frequency == 0) {
      sum += weights[place] * envelope;
    } else {
      sum += envelope *
             (weights[place] * std::cos(pole.frequency * t) + weights[place + 1] * std::sin(pole.frequency * t));
    }
  }
  return sum;
}

std::pair<double, double> values(const Signal& a, const Signal& b, double t) {
  const Basis& basis = a.basis();
  const double* const of_a = a.weights().data();
  const double* const of_b = b.weights().data();
  std::pair<double, double> sums{0, 0};
  for (std::size_t n = basis.degree() + 1; n-- > 0;) {
    sums.first = sums.first * t + of_a[n];
    sums.second = sums.second * t + of_b[n];
  }
  for (std::size_t j = 0; j < basis.poles().size(); ++j) {
    const Basis::Pole& pole = basis.poles()[j];
    const std::size_t place = basis.place_of(j);
    const double envelope = basis.envelope(j, t);
    if (pole.frequency == 0) {
      sums.first += of_a[place] * envelope;
      sums.second += of_b[place] * envelope;
    } else {
      const double cosine = std::cos(pole.frequency * t);
      const double sine = std::sin(pole.frequency * t);
      sums.first += envelope * (of_a[place] * cosine + of_a[place + 1] * sine);
      sums.second += envelope * (of_b[place] * cosine + of_b[place + 1] * sine);
    }
  }
  return sums;
}

Bounds Signal::bounds_within(double from, double to) const {
  const double* const weights = weights_.data();
  Bounds sum{weights[0], weights[0]};
  double low_power = 1;
  double high_power = 1;
  for (std::size_t n = 1; n <= basis_->degree(); ++n) {
    low_power *= from;
    high_power *= to;
    const double a = weights[n] * low_power;
    const double b = weights[n] * high_power;
    sum.low += std::min(a, b);
    sum.high += std::max(a, b);
  }
  for (std::size_t j = 0; j < basis_->poles().size(); ++j) {
    const Basis::Pole& pole = basis_->poles()[j];
    const std::size_t place = basis_->place_of(j);
    const double first = basis_->envelope(j, from);
    const double last = basis_->envelope(j, to);
    if (pole.frequency == 0) {
      const double a = weights[place] * first;
      const double b = weights[place] * last;
      sum.low += std::min(a, b);
      sum.high += std::max(a, b);
      continue;
    }
    const double amplitude = std::hypot(weights[place], weights[place + 1]) * std::max(first, last);
    const double middle = (from + to) / 2;
    const double reach =
        amplitude * std::hypot(pole.decay, pole.frequency) * (to - from) / 2;  // by the steepest slope there can be
    if (reach >= amplitude) {
      sum.low -= amplitude;
      sum.high += amplitude;
    } else {
      const double at_middle =
          std::exp(-pole.decay * middle) *
          (weights[place] * std::cos(pole.frequency * middle) + weights[place + 1] * std::sin(pole.frequency * middle));
      sum.low += at_middle - reach;
      sum.high += at_middle + reach;
    }
  }
  return sum;
}

Weights& Signal::restart(const Basis& basis) {
  basis_ = &basis;
  changed().assign(basis.size(), 0.0);
  return weights_;
}

void Signal::add(const Signal& other, double factor) {
  Weights& weights = changed();
  for (std::size_t i = 0; i < weights.size(); ++i) weights[i] += other.weights_[i] * factor;
}

void Signal::add_derivative(const Signal& other, double factor) {
  Weights& weights = changed();
  for (std::size_t n = 1; n <= basis_->degree(); ++n) {
    weights[n - 1] += static_cast<double>(n) * other.weights_[n] * factor;
  }
  for (std::size_t j = 0; j < basis_->poles().size(); ++j) {
    const Basis::Pole& pole = basis_->poles()[j];
    const std::size_t place = basis_->place_of(j);
    const double cosine = other.weights_[place];
    if (pole.frequency == 0) {
      weights[place] += -pole.decay * cosine * factor;
      continue;
    }
    const double sine = other.weights_[place + 1];
    weights[place] += (-pole.decay * cosine + pole.frequency * sine) * factor;
    weights[place + 1] += (-pole.decay * sine - pole.frequency * cosine) * factor;
  }
}

Signal Signal::derivative() const {
  Signal result;
  (void)result.restart(*basis_);
  result.add_derivative(*this, 1);
  return result;
}

void Signal::shorten(double share) {
  Weights& weights = changed();
  double power = 1;
  for (std::size_t n = 0; n <= basis_->degree(); ++n) {
    weights[n] *= power;
    power *= share;
  }
}

void Signal::part(double from, double share, const Basis& of_part, Signal& result) const {
  Weights& weights = result.restart(of_part);
  std::copy(weights_.begin(), weights_.end(), weights.begin());
  // The polynomial about `from`, by repeated synthetic division.
  const std::size_t degree = basis_->degree();
  for (std::size_t first = 0; first < degree; ++first) {
    for (std::size_t n = degree; n-- > first;) weights[n] += from * weights[n + 1];
  }
  result.shorten(share);
  for (std::size_t j = 0; j < basis_->poles().size(); ++j) {
    const Basis::Pole& pole = basis_->poles()[j];
    const std::size_t place = basis_->place_of(j);
    const double envelope = std::exp(-pole.decay * from);
    if (pole.frequency == 0) {
      weights[place] *= envelope;
      continue;
    }
    const double cosine = std::cos(pole.frequency * from);
    const double sine = std::sin(pole.frequency * from);
    weights[place] = envelope * (weights_[place] * cosine + weights_[place + 1] * sine);
    weights[place + 1] = envelope * (weights_[place + 1] * cosine - weights_[place] * sine);
  }
}

double Signal::magnitude() const {
  double sum = 0;
  for (const double weight : weights_) sum += std::abs(weight);
  return sum;
}

bool Signal::is_constant() const {
  return std::all_of(weights_.begin() + 1, weights_.end(), [](double weight) { return weight == 0; });
}

void Signal::add_line(double value, double slope) {
  Weights& weights = changed();
  weights[0] += value;
  // What is left of two equal values is rounding.
  if (std::abs(weights[0]) < 1e-15 * std::abs(value)) weights[0] = 0;
  if (basis_->degree() > 0) weights[1] += slope;
}

Signal Signal::plus_line(double value, double slope) const {
  Signal result = *this;
  result.add_line(value, slope);
  return result;
}

Signal Signal::times(double factor) const {
  Signal result = *this;
  for (double& weight : result.changed()) weight *= factor;
  return result;
}

Signal Signal::plus(const Signal& other) const {
  Signal result = *this;
  Weights& weights = result.changed();
  for (std::size_t i = 0; i < weights.size(); ++i) weights[i] += other.weights_[i];
  return result;
}

Signal Signal::minus(const Signal& other) const {
  Signal result = *this;
  Weights& weights = result.changed();
  for (std::size_t i = 0; i < weights.size(); ++i) weights[i] -= other.weights_[i];
  return result;
}

double integral(const Signal& signal) {
  double sum = 0;
  for (std::size_t i = 0; i < signal.weights().size(); ++i) {
    if (signal.weights()[i] != 0) sum += signal.weights()[i] * signal.basis().integral(i);
  }
  return sum;
}

double integral_of_begin(const Signal& signal, double share) {
  const Basis& basis = signal.basis();
  const Weights& weights = signal.weights();
  double sum = 0;
  double power = 1;
  for (std::size_t n = 0; n <= basis.degree(); ++n) {
    power *= share;
    sum += weights[n] * power / static_cast<double>(n + 1);
  }
  for (std::size_t j = 0; j < basis.poles().size(); ++j) {
    const std::size_t place = basis.place_of(j);
    const Complex part = share * decay_integral(pole_value(basis.poles()[j]) * share);
    sum += weights[place] * part.real();
    if (basis.poles()[j].frequency != 0) sum += weights[place + 1] * part.imag();
  }
  return sum;
}

double integral_of_end(const Signal& signal, double share) {
  const Basis& basis = signal.basis();
  const Weights& weights = signal.weights();
  const double from = 1 - share;
  double sum = 0;
  // 1 - from^n is share (1 + from + ... + from^(n - 1)).
  double powers = 0;
  double power = 1;
  for (std::size_t n = 0; n <= basis.degree(); ++n) {
    powers += power;
    power *= from;
    sum += weights[n] * share * powers / static_cast<double>(n + 1);
  }
  for (std::size_t j = 0; j < basis.poles().size(); ++j) {
    const Complex k = pole_value(basis.poles()[j]);
    Complex rest;
    moments(k * share, 0, [&](std::size_t, Complex moment) { rest = moment; });
    const Complex part = std::exp(-k * from) * share * rest;
    const std::size_t place = basis.place_of(j);
    sum += weights[place] * part.real();
    if (basis.poles()[j].frequency != 0) sum += weights[place + 1] * part.imag();
  }
  return sum;
}

double integral_of_product(const Signal& a, const Signal& b) {
  double sum = 0;
  for (std::size_t i = 0; i < a.weights().size(); ++i) {
    const double weight = a.weights()[i];
    if (weight == 0) continue;
    const std::span<const double> products = a.basis().products(i);
    double inner = 0;
    for (std::size_t j = 0; j < products.size(); ++j) inner += b.weights()[j] * products[j];
    sum += weight * inner;
  }
  return sum;
}

}  // namespace rampart::circuit
