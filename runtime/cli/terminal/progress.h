#pragma once

#include <chrono>
#include <cstddef>

#include "lang/job/job.h"

namespace rampart::cli {

// Tells on standard error how far long work has come: what has passed, how much is done, what remains. Silent for
// the first quarter of a second, and where standard error is no terminal.
[[nodiscard]] Progress progress_line();

// The same for a file of unknown size: how much of it has been written.
class ByteCount {
 public:
  // `is_told`: what is written goes elsewhere than to the terminal.
  explicit ByteCount(bool is_told);
  ~ByteCount();
  ByteCount(const ByteCount&) = delete;
  ByteCount& operator=(const ByteCount&) = delete;
  void add(std::size_t bytes);

 private:
  bool is_told_;
  double bytes_ = 0;
  bool shown_ = false;
  std::chrono::steady_clock::time_point begin_;
  std::chrono::steady_clock::time_point last_;
};

}  // namespace rampart::cli
