#include "runtime/support/parallel.h"

#include <algorithm>
#include <exception>
#include <mutex>
#include <optional>
#include <system_error>
#include <thread>
#include <vector>

namespace rampart {
namespace {

class Work {
 public:
  Work(std::size_t count, const std::function<void(std::size_t)>& job, const Progress& progress)
      : count_(count), job_(job), progress_(progress) {
    if (progress_ && count_ > 0) progress_(0, count_);
  }

  void run() {
    while (const std::optional<std::size_t> next = take()) {
      try {
        job_(*next);
      } catch (...) {
        give_up(std::current_exception());
      }
      finish_one();
    }
  }

  void rethrow() const {
    if (failure_) std::rethrow_exception(failure_);
  }

 private:
  std::optional<std::size_t> take() {
    const std::lock_guard lock(mutex_);
    if (failure_ || next_ == count_) return std::nullopt;
    return next_++;
  }

  void give_up(std::exception_ptr failure) {
    const std::lock_guard lock(mutex_);
    if (!failure_) failure_ = std::move(failure);
  }

  void finish_one() {
    const std::lock_guard lock(mutex_);
    ++done_;
    if (progress_) progress_(done_, count_);
  }

  std::size_t count_;
  const std::function<void(std::size_t)>& job_;
  const Progress& progress_;
  std::mutex mutex_;
  std::size_t next_ = 0;
  std::size_t done_ = 0;
  std::exception_ptr failure_;
};

}  // namespace

unsigned usual_threads() {
  return std::max(1U, std::thread::hardware_concurrency());
}

void run_parallel(std::size_t count, const Effort& effort, const std::function<void(std::size_t)>& job) {
  Work work(count, job, effort.progress);
  {
    std::vector<std::jthread> others;
    for (std::size_t i = 1; i < std::min<std::size_t>(effort.threads, count); ++i) {
      try {
        others.emplace_back([&work] { work.run(); });
      } catch (const std::system_error&) {
        // No more threads are to be had; those that there are do the work.
        break;
      }
    }
    work.run();
  }
  work.rethrow();
}

}  // namespace rampart
