#include "runtime/editor/predictor.h"

#include <exception>
#include <utility>

namespace rampart::editor {

Predictor::Predictor(bool corners, std::function<void(PredictionPtr)> done, std::function<void(std::uint64_t)> told)
    : corners_(corners), done_(std::move(done)), told_(std::move(told)) {
  thread_ = std::jthread([this](const std::stop_token& end) { work(end); });
}

Predictor::~Predictor() {
  thread_.request_stop();
  drop();
}

std::uint64_t Predictor::ask(const std::vector<AnalysisPtr>& analyses) {
  const std::scoped_lock lock(mutex_);
  stop_.request_stop();
  waiting_.assign(analyses.rbegin(), analyses.rend());
  asked_.notify_all();
  return ++calls_;
}

void Predictor::drop() {
  const std::scoped_lock lock(mutex_);
  stop_.request_stop();
  waiting_.clear();
}

void Predictor::work(const std::stop_token& end) {
  while (true) {
    AnalysisPtr next;
    std::stop_token stop;
    {
      std::unique_lock lock(mutex_);
      if (waiting_.empty() && told_calls_ != calls_) {
        told_calls_ = calls_;
        const std::uint64_t calls = calls_;
        lock.unlock();
        told_(calls);
        continue;
      }
      if (!asked_.wait(lock, end, [this] { return !waiting_.empty() || told_calls_ != calls_; })) return;
      if (waiting_.empty()) continue;
      next = std::move(waiting_.back());
      waiting_.pop_back();
      stop_ = std::stop_source();
      stop = stop_.get_token();
    }
    try {
      predict_one(next, stop);
    } catch (const JobStopped&) {
      // Something newer is asked for, or nothing any more.
    } catch (const std::exception&) {
      // What is too large to be simulated has no prediction.
    }
  }
}

void Predictor::predict_one(const AnalysisPtr& analysis, const std::stop_token& stop) {
  const Job job{stop, {}, usual_threads()};
  PredictionPtr plain = predict(analysis, false, job);
  const bool has_more = corners_ && plain->predictions.simulation.has_value();
  done_(std::move(plain));
  if (has_more) done_(predict(analysis, true, job));
}

}  // namespace rampart::editor
