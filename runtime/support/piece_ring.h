#pragma once

#include <array>
#include <condition_variable>
#include <cstdint>
#include <functional>
#include <mutex>
#include <string>
#include <string_view>
#include <thread>
#include <vector>

namespace rampart {

// Gives the pieces of a text to several readers, each on a thread of its own, in order. Few pieces wait: whoever adds
// another waits for the slowest reader.
class PieceRing {
 public:
  using Reader = std::function<void(std::string_view piece)>;

  // Throws std::system_error where no thread is to be had.
  explicit PieceRing(std::vector<Reader> readers);
  // Pieces that no reader has begun may be lost: finish() comes first.
  ~PieceRing();
  PieceRing(const PieceRing&) = delete;
  PieceRing& operator=(const PieceRing&) = delete;

  void add(std::string_view piece);
  // Waits until every reader is done with every piece.
  void finish();

 private:
  static constexpr std::size_t kPlaces = 8;

  void read(std::size_t reader);
  [[nodiscard]] std::uint64_t read_by_all() const;
  void stop();

  std::vector<Reader> readers_;
  std::array<std::string, kPlaces> places_;
  std::mutex mutex_;
  std::condition_variable added_changed_;
  std::condition_variable read_changed_;
  std::uint64_t added_ = 0;
  std::vector<std::uint64_t> read_;  // by each reader
  bool is_over_ = false;
  std::vector<std::thread> threads_;
};

}  // namespace rampart
