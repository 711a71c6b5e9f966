#include "runtime/support/disk_thread.h"

#include <unistd.h>

#include <cerrno>

namespace rampart {
namespace {

// Less is not worth a call: each waits until the disk says that it has everything.
constexpr std::size_t kWorthACall = std::size_t{8} << 20U;

}  // namespace

DiskThread::DiskThread(int descriptor) : descriptor_(descriptor), thread_([this] { work(); }) {}

DiskThread::~DiskThread() {
  static_cast<void>(finish());
}

void DiskThread::add(std::size_t bytes) {
  bool is_worth_a_call = false;
  {
    const std::lock_guard lock(mutex_);
    waiting_ += bytes;
    is_worth_a_call = waiting_ >= kWorthACall;
  }
  if (is_worth_a_call) changed_.notify_one();
}

int DiskThread::finish() {
  {
    const std::lock_guard lock(mutex_);
    is_over_ = true;
  }
  changed_.notify_one();
  if (thread_.joinable()) thread_.join();
  return error_;
}

void DiskThread::work() {
  std::unique_lock lock(mutex_);
  while (true) {
    changed_.wait(lock, [this] { return waiting_ >= kWorthACall || is_over_; });
    if (is_over_) return;
    waiting_ = 0;
    lock.unlock();
    const int error = fdatasync(descriptor_) == 0 ? 0 : errno;
    lock.lock();
    if (error_ == 0) error_ = error;
  }
}

}  // namespace rampart
