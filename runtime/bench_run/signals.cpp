#include "runtime/bench_run/signals.h"

#include <ctime>

#include "runtime/support/ending_signals.h"

namespace rampart::bench_run {

SignalsAsMail::SignalsAsMail(Mailbox& mailbox) {
  sigemptyset(&taken_);
  for (const int signal : signals_from_outside()) sigaddset(&taken_, signal);
  sigset_t blocked = taken_;
  for (const int signal : {SIGTSTP, SIGTTIN, SIGTTOU}) sigaddset(&blocked, signal);
  pthread_sigmask(SIG_BLOCK, &blocked, &before_);
  thread_ = std::thread([this, &mailbox] {
    constexpr timespec kSlice{0, 50'000'000};
    while (!is_over_) {
      const int signal = sigtimedwait(&taken_, nullptr, &kSlice);
      if (signal > 0) mailbox.post(0, SignalCame{signal});
    }
  });
}

SignalsAsMail::~SignalsAsMail() {
  is_over_ = true;
  thread_.join();
  pthread_sigmask(SIG_SETMASK, &before_, nullptr);
}

}  // namespace rampart::bench_run
