#pragma once

#include <condition_variable>
#include <deque>
#include <mutex>
#include <string>
#include <thread>

namespace rampart::cli {

// Standard output, written by a thread of its own: a terminal that is held up holds nothing up but itself. What it does
// not take is dropped, so it is for what is recorded elsewhere.
class BackgroundOutput {
 public:
  BackgroundOutput();
  // Writes what is waiting, as far as standard output takes it within a second.
  ~BackgroundOutput();
  BackgroundOutput(const BackgroundOutput&) = delete;
  BackgroundOutput& operator=(const BackgroundOutput&) = delete;

  void write(std::string text);

 private:
  static constexpr std::size_t kMostWaiting = 10'000;

  void work();

  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<std::string> waiting_;
  bool is_over_ = false;
  std::thread thread_;
};

}  // namespace rampart::cli
