#include "runtime/support/ending_signals.h"

#include <csignal>

namespace rampart {

const std::vector<int>& signals_from_outside() {
  static const std::vector<int> kSignals = [] {
    std::vector<int> all{SIGINT,  SIGTERM, SIGHUP,  SIGQUIT, SIGXCPU, SIGALRM,  SIGVTALRM,
                         SIGPROF, SIGUSR1, SIGUSR2, SIGIO,   SIGPWR,  SIGSTKFLT};
    for (int signal = SIGRTMIN; signal <= SIGRTMAX; ++signal) all.push_back(signal);
    return all;
  }();
  return kSignals;
}

}  // namespace rampart
