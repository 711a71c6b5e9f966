#include "lang/job/parallel.h"

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
  Work(std::size_t count, const Job& job, const std::function<void(std::size_t)>& part)
      : count_(count), job_(job), part_(part) {
    if (job_.progress && count_ > 0) job_.progress(0, count_);
  }

  void run() {
    while (const std::optional<std::size_t> next = take()) {
      try {
        job_.check();
        part_(*next);
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
    if (job_.progress) job_.progress(done_, count_);
  }

  std::size_t count_;
  const Job& job_;
  const std::function<void(std::size_t)>& part_;
  std::mutex mutex_;
  std::size_t next_ = 0;
  std::size_t done_ = 0;
  std::exception_ptr failure_;
};

}  // namespace

unsigned usual_threads() {
  return std::max(1U, std::thread::hardware_concurrency());
}

void run_parallel(std::size_t count, const Job& job, const std::function<void(std::size_t)>& part) {
  Work work(count, job, part);
  {
    std::vector<std::jthread> others;
    for (std::size_t i = 1; i < std::min<std::size_t>(job.threads, count); ++i) {
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
