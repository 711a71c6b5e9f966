#include "runtime/as_run/reading_merge.h"

namespace rampart::as_run {

struct ReadingMerge::Source {
  Source(FileStream opened, const Logger& logger, std::size_t index, const Table& table, const LogNames& names)
      : stream(std::move(opened)),
        reader(stream.get(), logger.path, logger.description, names, nullptr),
        readings(table, names),
        last(table.rails().size()),
        logger_index(index) {}

  FileStream stream;
  LogReader reader;
  RailReadings readings;
  std::vector<std::optional<double>> last;  // time of the last reading, by rail
  std::size_t logger_index;
  std::deque<Next> waiting;
  std::int64_t lines = 0;
  bool is_over = false;
};

ReadingMerge::ReadingMerge(Files& files, const std::vector<std::unique_ptr<Logger>>& loggers, const Table& table,
                           const LogNames& names, const Job& job, std::size_t watched, Watch watch)
    : loggers_(loggers), job_(job), watched_(watched), watch_(std::move(watch)) {
  for (std::size_t i = 0; i < loggers.size(); ++i) {
    if (!loggers[i]->shift_s) continue;
    std::string why;
    FileStream stream = files.open(loggers[i]->path, why);
    if (!stream) continue;
    auto source = std::make_unique<Source>(std::move(stream), *loggers[i], i, table, names);
    if (source->reader.open()) sources_.push_back(std::move(source));
  }
}

ReadingMerge::~ReadingMerge() = default;

void ReadingMerge::fetch(Source& source) {
  constexpr std::int64_t kBetweenChecks = 100'000;  // lines
  const Logger& logger = *loggers_[source.logger_index];
  while (source.waiting.empty() && !source.is_over) {
    if (!source.reader.next() || (logger.survey.ends_at && source.reader.line() >= *logger.survey.ends_at)) {
      source.is_over = true;
      return;
    }
    if (++source.lines % kBetweenChecks == 0) job_.check();
    const double time = logger.survey.seconds(source.reader.time());
    if (time > logger.judged_to) {
      source.is_over = true;
      return;
    }
    if (watch_ && source.logger_index == watched_) watch_(source.reader, time);
    for (const LogReading& one : source.reader.readings()) {
      const std::optional<RailReading> reading = source.readings.take(one, time);
      if (!reading || source.last[reading->rail] == time) continue;
      source.last[reading->rail] = time;
      source.waiting.push_back({source.logger_index, *reading, logger.clock.run_of(time)});
    }
  }
}

std::optional<ReadingMerge::Next> ReadingMerge::next() {
  Source* first = nullptr;
  for (const auto& source : sources_) {
    fetch(*source);
    if (source->waiting.empty()) continue;
    if (first == nullptr || source->waiting.front().run_s < first->waiting.front().run_s) first = source.get();
  }
  if (first == nullptr) return std::nullopt;
  Next result = first->waiting.front();
  first->waiting.pop_front();
  return result;
}

}  // namespace rampart::as_run
