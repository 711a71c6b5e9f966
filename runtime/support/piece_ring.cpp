#include "runtime/support/piece_ring.h"

#include <utility>

namespace rampart {

PieceRing::PieceRing(Reader reader) : reader_(std::move(reader)), thread_([this] { read(); }) {}

PieceRing::~PieceRing() {
  {
    const std::lock_guard lock(mutex_);
    is_over_ = true;
  }
  added_changed_.notify_one();
  thread_.join();
}

void PieceRing::add(std::string_view piece) {
  {
    std::unique_lock lock(mutex_);
    read_changed_.wait(lock, [this] { return added_ - read_ < kPlaces; });
  }
  // It is not read before it is counted.
  places_[added_ % kPlaces].assign(piece);
  bool is_worth_waking = false;
  {
    const std::lock_guard lock(mutex_);
    ++added_;
    is_worth_waking = added_ - read_ >= kWorthWaking;
  }
  if (is_worth_waking) added_changed_.notify_one();
}

void PieceRing::finish() {
  std::unique_lock lock(mutex_);
  is_finishing_ = true;
  added_changed_.notify_one();
  read_changed_.wait(lock, [this] { return read_ == added_; });
  is_finishing_ = false;
}

void PieceRing::read() {
  std::unique_lock lock(mutex_);
  while (true) {
    added_changed_.wait(
        lock, [this] { return added_ - read_ >= kWorthWaking || (is_finishing_ && read_ < added_) || is_over_; });
    for (; read_ < added_ && !is_over_; ++read_) {
      const std::string& piece = places_[read_ % kPlaces];
      lock.unlock();
      reader_(piece);
      lock.lock();
      read_changed_.notify_one();
    }
    if (is_over_) return;
  }
}

}  // namespace rampart
