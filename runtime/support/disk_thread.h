#pragma once

#include <condition_variable>
#include <cstddef>
#include <mutex>
#include <thread>

namespace rampart {

// Has what was written to a file put on the disk by a thread of its own, while more is written. The disk then has
// little left to do when the last byte is written.
class DiskThread {
 public:
  // For the open file of that descriptor. Signals that the caller holds do not reach the thread. Throws
  // std::system_error where no thread is to be had.
  explicit DiskThread(int descriptor);
  ~DiskThread();
  DiskThread(const DiskThread&) = delete;
  DiskThread& operator=(const DiskThread&) = delete;

  // So many more bytes were written.
  void add(std::size_t bytes);
  // Ends the thread. The error of what went on so far, which the system tells once, or 0.
  [[nodiscard]] int finish();

 private:
  void work();

  int descriptor_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::size_t waiting_ = 0;  // bytes
  bool is_over_ = false;
  int error_ = 0;
  std::thread thread_;
};

}  // namespace rampart
