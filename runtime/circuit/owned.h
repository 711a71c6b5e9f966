#pragma once

#include <memory>
#include <utility>

namespace rampart::circuit {

// A part that is copied with its owner, by its own copy().
template <class Part>
class Owned {
 public:
  Owned(std::unique_ptr<Part> part) : part_(std::move(part)) {}
  Owned(const Owned& other) : part_(other.part_->copy()) {}
  Owned(Owned&&) noexcept = default;
  Owned& operator=(const Owned& other) {
    part_ = other.part_->copy();
    return *this;
  }
  Owned& operator=(Owned&&) noexcept = default;
  ~Owned() = default;

  [[nodiscard]] Part& operator*() const { return *part_; }
  [[nodiscard]] Part* operator->() const { return part_.get(); }

 private:
  std::unique_ptr<Part> part_;
};

// What a copy of its owner begins without.
template <class Value>
struct NotCopied : Value {
  NotCopied() = default;
  NotCopied(const NotCopied&) : Value() {}
  NotCopied& operator=(const NotCopied&) = delete;
  ~NotCopied() = default;
};

}  // namespace rampart::circuit
