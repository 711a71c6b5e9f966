#pragma once

#include <array>
#include <condition_variable>
#include <cstdint>
#include <functional>
#include <mutex>
#include <string>
#include <string_view>
#include <thread>

namespace rampart {

// Gives the pieces of a text to a reader on a thread of its own, in order. Few pieces wait: whoever adds another waits
// for the reader.
class PieceRing {
 public:
  using Reader = std::function<void(std::string_view piece)>;

  // Throws std::system_error where no thread is to be had.
  explicit PieceRing(Reader reader);
  // Pieces that the reader has not begun may be lost: finish() comes first.
  ~PieceRing();
  PieceRing(const PieceRing&) = delete;
  PieceRing& operator=(const PieceRing&) = delete;

  void add(std::string_view piece);
  // Waits until the reader is done with every piece.
  void finish();

 private:
  static constexpr std::size_t kPlaces = 8;
  // A thread takes longer to wake than a piece takes to read, so it is woken for several.
  static constexpr std::uint64_t kWorthWaking = kPlaces / 2;

  void read();

  Reader reader_;
  std::array<std::string, kPlaces> places_;
  std::mutex mutex_;
  std::condition_variable added_changed_;
  std::condition_variable read_changed_;
  std::uint64_t added_ = 0;
  std::uint64_t read_ = 0;
  bool is_finishing_ = false;
  bool is_over_ = false;
  std::thread thread_;
};

}  // namespace rampart
