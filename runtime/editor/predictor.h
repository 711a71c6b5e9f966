#pragma once

#include <condition_variable>
#include <cstdint>
#include <functional>
#include <mutex>
#include <stop_token>
#include <thread>
#include <vector>

#include "runtime/editor/analysis.h"

namespace rampart::editor {

// Simulates on a thread of its own: first the run, then, where that is asked for, the ends of all tolerances.
class Predictor {
 public:
  // Both are called on that thread: with each prediction, and with the number of calls of ask() so far once nothing is
  // left to be done.
  Predictor(bool corners, std::function<void(PredictionPtr)> done, std::function<void(std::uint64_t)> told);
  ~Predictor();
  Predictor(const Predictor&) = delete;
  Predictor& operator=(const Predictor&) = delete;

  // In place of what was asked for before, which is stopped.
  // Gives the number of this call, from 1.
  std::uint64_t ask(const std::vector<AnalysisPtr>& analyses);
  // Stops whatever is asked for.
  void drop();

 private:
  void work(const std::stop_token& end);
  void predict_one(const AnalysisPtr& analysis, const std::stop_token& stop);

  bool corners_;
  std::function<void(PredictionPtr)> done_;
  std::function<void(std::uint64_t)> told_;
  std::mutex mutex_;
  std::condition_variable_any asked_;
  std::vector<AnalysisPtr> waiting_;  // the next one last
  std::uint64_t calls_ = 0;
  std::uint64_t told_calls_ = 0;
  std::stop_source stop_;
  std::jthread thread_;
};

}  // namespace rampart::editor
