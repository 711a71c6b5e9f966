#pragma once

#include <atomic>
#include <csignal>
#include <thread>

#include "runtime/bench_run/mailbox.h"

namespace rampart::bench_run {

// While it lives, signals that would end the program come as mail instead, and Ctrl-Z does not stop it: outputs would
// stay on with nobody sending. To be made before any other thread is.
class SignalsAsMail {
 public:
  explicit SignalsAsMail(Mailbox& mailbox);
  ~SignalsAsMail();
  SignalsAsMail(const SignalsAsMail&) = delete;
  SignalsAsMail& operator=(const SignalsAsMail&) = delete;

 private:
  sigset_t taken_{};
  sigset_t before_{};
  std::atomic<bool> is_over_ = false;
  std::thread thread_;
};

}  // namespace rampart::bench_run
