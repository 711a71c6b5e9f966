#pragma once

#include <cstddef>
#include <functional>
#include <stop_token>

namespace rampart {

// Tells how far long work has come: so many of so many parts are done. Called from one thread at a time, and any number
// of times.
using Progress = std::function<void(std::size_t done, std::size_t all)>;

// As many as the machine runs at once.
[[nodiscard]] unsigned usual_threads();

// Thrown by work whose job was stopped: there is no half of an answer.
struct JobStopped {};

// How a piece of long work is carried out: it changes nothing of the answer.
struct Job {
  std::stop_token stop{};
  Progress progress{};
  unsigned threads = usual_threads();

  // Throws JobStopped once a stop is asked for.
  void check() const {
    if (stop.stop_requested()) throw JobStopped{};
  }
  // The same job as a part of a larger one, which tells by itself how far it has come.
  [[nodiscard]] Job quietly() const { return {stop, {}, threads}; }
};

}  // namespace rampart
