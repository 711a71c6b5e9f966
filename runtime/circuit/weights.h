#pragma once

#include <algorithm>
#include <cstddef>
#include <memory>
#include <span>

namespace rampart::circuit {

// The weights of a signal. A few need no memory of their own: signals are made and copied many times a piece.
class Weights {
 public:
  Weights() = default;
  explicit Weights(std::span<const double> values) { copy(values); }
  Weights(const Weights& other) { copy({other.data(), other.size_}); }
  Weights(Weights&& other) noexcept { take(other); }
  Weights& operator=(const Weights& other) {
    if (this != &other) copy({other.data(), other.size_});
    return *this;
  }
  Weights& operator=(Weights&& other) noexcept {
    if (this != &other) take(other);
    return *this;
  }
  ~Weights() = default;

  // Makes them so many, all zero.
  void clear(std::size_t size) {
    make_room(size);
    std::fill(begin(), end(), 0.0);
  }
  [[nodiscard]] std::size_t size() const { return size_; }
  [[nodiscard]] double* data() { return many_ ? many_.get() : few_; }
  [[nodiscard]] const double* data() const { return many_ ? many_.get() : few_; }
  [[nodiscard]] double* begin() { return data(); }
  [[nodiscard]] double* end() { return data() + size_; }
  [[nodiscard]] const double* begin() const { return data(); }
  [[nodiscard]] const double* end() const { return data() + size_; }
  [[nodiscard]] double& operator[](std::size_t i) { return data()[i]; }
  [[nodiscard]] double operator[](std::size_t i) const { return data()[i]; }

 private:
  // What a network of a few parts needs.
  static constexpr std::size_t kFew = 8;

  void make_room(std::size_t size) {
    if (size > kFew && (!many_ || size > size_)) many_ = std::make_unique<double[]>(size);
    if (size <= kFew) many_.reset();
    size_ = size;
  }
  void copy(std::span<const double> values) {
    make_room(values.size());
    std::copy(values.begin(), values.end(), begin());
  }
  void take(Weights& other) {
    many_ = std::move(other.many_);
    size_ = other.size_;
    if (!many_) std::copy_n(other.few_, size_, few_);
    other.size_ = 0;
  }

  std::size_t size_ = 0;
  std::unique_ptr<double[]> many_;  // empty for a few
  double few_[kFew];
};

}  // namespace rampart::circuit
