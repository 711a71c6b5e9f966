#include "runtime/support/piece_ring.h"

#include <algorithm>
#include <utility>

namespace rampart {

PieceRing::PieceRing(std::vector<Reader> readers) : readers_(std::move(readers)), read_(readers_.size()) {
  try {
    for (std::size_t i = 0; i < readers_.size(); ++i) threads_.emplace_back([this, i] { read(i); });
  } catch (...) {
    stop();
    throw;
  }
}

PieceRing::~PieceRing() {
  stop();
}

void PieceRing::stop() {
  {
    const std::lock_guard lock(mutex_);
    is_over_ = true;
  }
  added_changed_.notify_all();
  for (std::thread& thread : threads_) thread.join();
}

void PieceRing::add(std::string_view piece) {
  {
    std::unique_lock lock(mutex_);
    read_changed_.wait(lock, [this] { return added_ - read_by_all() < kPlaces; });
  }
  // Nobody reads this place before it is counted.
  places_[added_ % kPlaces].assign(piece);
  {
    const std::lock_guard lock(mutex_);
    ++added_;
  }
  added_changed_.notify_all();
}

void PieceRing::finish() {
  std::unique_lock lock(mutex_);
  read_changed_.wait(lock, [this] { return read_by_all() == added_; });
}

void PieceRing::read(std::size_t reader) {
  std::unique_lock lock(mutex_);
  while (true) {
    added_changed_.wait(lock, [&] { return read_[reader] < added_ || is_over_; });
    if (is_over_) return;
    const std::string& piece = places_[read_[reader] % kPlaces];
    lock.unlock();
    readers_[reader](piece);
    lock.lock();
    ++read_[reader];
    read_changed_.notify_one();
  }
}

std::uint64_t PieceRing::read_by_all() const {
  return *std::min_element(read_.begin(), read_.end());
}

}  // namespace rampart
