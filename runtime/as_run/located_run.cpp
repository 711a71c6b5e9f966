#include "runtime/as_run/located_run.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "compiler/bench/readback.h"
#include "lang/files/opened_files.h"
#include "lang/files/read_text.h"
#include "lang/findings/files.h"
#include "lang/findings/logs.h"
#include "runtime/as_run/record_check.h"
#include "runtime/as_run/run_findings.h"
#include "runtime/as_run/run_times.h"
#include "runtime/log/log_values.h"

namespace rampart::as_run {
namespace {

// Observed waits that are given beforehand, for a run whose segments are to follow each other at once.
constexpr std::size_t kMostWaits = 10'000;
// A clock that is put ahead jumps by at least this, s.
constexpr double kLeastJump = 60;

}  // namespace

double Logger::room_at(double run_s, double duration, double skew) const {
  const double drift = clock_uncertainty * std::abs(run_s - duration / 2);
  return shift_uncertainty_s + in_seconds(description.time_resolution) / 2 + skew + drift + clock.blur_at(run_s);
}

std::optional<Date> day_of(const Logger& logger) {
  if (logger.description.date) return logger.description.date;
  if (logger.record) return logger.record->day();
  if (logger.description.time != LogTimeFormat::Iso8601) return std::nullopt;
  const auto time = std::chrono::sys_time<Nanoseconds>(logger.survey.origin);
  return Date{std::chrono::floor<std::chrono::days>(time)};
}

LocatedRun::LocatedRun(Files& files, const Played& played, FindingSink& findings, const Job& job)
    : files_(&files),
      played_(played),
      findings_(&findings),
      job_(&job),
      names_(played.run->profile(), played.run->bench()),
      readbacks_(read_readbacks(findings.texts(), played.run->bench())) {}

bool LocatedRun::read(const std::vector<LogRequest>& logs) {
  plan();
  std::map<std::string, std::string> read_as;
  for (const LogRequest& request : logs) {
    loggers_.push_back(std::make_unique<Logger>());
    if (!read(request, *loggers_.back())) return false;
    const std::optional<std::string> file = opened_as(request.path);
    if (!file) continue;
    const auto [earlier, is_new] = read_as.try_emplace(*file, request.path);
    if (is_new) continue;
    findings_
        ->report(finding::LogTwice, Span{findings_->texts().add(request.path, ""), 0, 0}, request.path, earlier->second)
        .hint("give each log once; one description can name several instruments");
    return false;
  }
  return true;
}

bool LocatedRun::read(const LogRequest& request, Logger& logger) {
  logger.path = request.path;
  logger.given_shift_s = request.shift_s;
  const std::string path = request.description.value_or(description_path(request.path));
  std::string why;
  // One that is there and cannot be read is never taken for none.
  if (request.description || files_->open(path, why) || why != "no such file") {
    const TextPtr text = read_text(*files_, {path, std::nullopt}, *findings_);
    if (text == nullptr) return false;
    std::optional<LogDescription> read = read_log_description(findings_->texts(), text->id(), *findings_);
    if (!read) return false;
    logger.description = *std::move(read);
    logger.description.text = text;
  }
  const FileStream stream = files_->open(request.path, why);
  if (!stream) {
    report_unreadable({request.path, std::nullopt}, why, *findings_);
    return false;
  }
  logger.survey = survey(stream.get(), request.path, logger.description, names_, table(), levels_, *findings_);
  if (logger.survey.failed) report_unreadable({request.path, std::nullopt}, "could not be read to its end", *findings_);
  read_record(*files_, logger, *findings_);
  logger.meters.emplace(table(), logger.description, readbacks_);
  return true;
}

// The segments of the run without their waits, and the levels at which edges are looked for.
void LocatedRun::plan() {
  const Recordings usual = record(played_, {}, {}, job_->quietly());
  const std::vector<Instant>& starts = usual.nominal.simulation.segment_starts;
  const bool waits = starts.size() > 1;
  const Recordings without =
      waits ? record(played_, AsPlayed{std::vector<Nanoseconds>(kMostWaits)}, {}, job_->quietly()) : Recordings{};
  planned_ = waits ? without.nominal : usual.nominal;
  const Simulation& simulation = planned_.simulation;
  for (std::size_t i = 0; i < simulation.segment_starts.size(); ++i) {
    const bool is_last = i + 1 == simulation.segment_starts.size();
    PlannedSegment segment;
    segment.start_s = simulation.segment_starts[i].seconds();
    segment.length_s = (is_last ? simulation.duration_s : simulation.segment_starts[i + 1].seconds()) - segment.start_s;
    if (!is_last && i + 1 < starts.size()) {
      segment.usual_wait_s = std::max(0.0, starts[i + 1].since(starts[i]) - segment.length_s);
    }
    plan_.push_back(segment);
  }
  levels_ = levels_of(planned_.waveforms);
}

// Commands tell more than edges, and of two logs the one that shows more segments and edges tells more.
bool LocatedRun::find() {
  for (std::size_t i = 0; i < loggers_.size(); ++i) {
    Logger& logger = *loggers_[i];
    if (!logger.survey.is_log || logger.survey.readings == 0 || !logger.has_commands()) continue;
    leader_ = i;
    take_commands(logger);
    return logger.shift_s.has_value();
  }
  struct Found {
    std::size_t logger = 0;
    Alignment alignment;
    std::size_t observed = 0;
  };
  std::optional<Found> best;
  std::vector<std::pair<std::size_t, Unaligned>> unaligned;
  for (std::size_t i = 0; i < loggers_.size(); ++i) {
    Logger& logger = *loggers_[i];
    if (!logger.survey.is_log || logger.survey.readings == 0) continue;
    AlignmentResult result = align_with(logger, edges_of(planned_.waveforms, levels_), plan_);
    if (!result.alignment && result.unaligned.either && is_clock_jump(logger, *result.unaligned.either)) {
      logger.given_shift_s = result.unaligned.either->first;
      result = align_with(logger, edges_of(planned_.waveforms, levels_), plan_);
    }
    if (!result.alignment) {
      unaligned.emplace_back(i, std::move(result.unaligned));
      continue;
    }
    Found found{i, *std::move(result.alignment), 0};
    for (const Alignment::Start& start : found.alignment.starts) found.observed += start.observed ? 1 : 0;
    if (!best ||
        std::pair(found.observed, found.alignment.matched) > std::pair(best->observed, best->alignment.matched))
      best = std::move(found);
  }
  if (!best) {
    for (const auto& [logger, why] : unaligned) {
      report_unaligned(loggers_[logger]->path, why, loggers_[logger]->survey, planned_duration(), *findings_);
    }
    return false;
  }
  leader_ = best->logger;
  take_alignment(leader(), best->alignment);
  return true;
}

// Two places that are as far apart as a gap is long: the run fits on either side of it.
bool LocatedRun::is_clock_jump(const Logger& logger, const std::pair<double, double>& either) {
  for (const SurveyedRail& rail : logger.survey.rails) {
    for (const SeenGap& gap : rail.of(Measured::Voltage).gaps) {
      const double jump = gap.to - gap.from - rail.interval;
      if (jump >= kLeastJump && std::abs(either.second - either.first - jump) < 10 * rail.interval + 0.05) return true;
    }
  }
  return false;
}

EdgeBlur LocatedRun::blur_of(Logger& logger) const {
  EdgeBlur blur;
  blur.interval = logger.interval();
  for (std::size_t i = 0; i < table().rails().size(); ++i) {
    const RailMeter& meter = logger.meters->of(i, Measured::Voltage, logger.survey.rails[i].volts_by);
    double other = meter.blur();
    for (const ChannelId member : table().rails()[i].members) {
      const Timing& timing = table().bench().supply_of(member).timing;
      other = std::max(
          other, meter.blur() + in_seconds(timing.on_delay.high - timing.on_delay.low) / 2 + in_seconds(timing.skew));
    }
    blur.other = std::max(blur.other, other);
  }
  return blur;
}

AlignmentResult LocatedRun::align_with(Logger& logger, std::vector<Edge> planned,
                                       const std::vector<PlannedSegment>& segments) const {
  const Survey& survey = logger.survey;
  for (Edge& edge : planned) {
    edge.time += logger.meters->of(edge.rail, Measured::Voltage, survey.rails[edge.rail].volts_by).lag();
  }
  std::erase_if(planned, [&](const Edge& edge) { return !survey.rails[edge.rail].has(Measured::Voltage); });
  std::vector<PlannedSegment> bounded = segments;
  for (PlannedSegment& segment : bounded) segment.longest_wait_s = survey.last - survey.first;
  return align(planned, survey.edges, bounded, blur_of(logger), survey.first, survey.last, logger.given_shift_s);
}

std::optional<std::size_t> LocatedRun::rail_of(std::size_t target) const {
  const LogNames::Target& named = names_[target];
  if (named.of == LogNames::Of::Rail) return named.index;
  for (std::size_t i = 0; i < table().rails().size(); ++i) {
    for (const ChannelId member : table().rails()[i].members) {
      if (named.of == LogNames::Of::Channel && static_cast<std::size_t>(member) == named.index) return i;
    }
  }
  return std::nullopt;
}

double LocatedRun::longest_interval() const {
  double longest = 0;
  for (const auto& logger : loggers_) longest = std::max(longest, logger->interval());
  return longest;
}

std::optional<double> LocatedRun::safe_begin() const {
  for (const SeenSegment& segment : leader().survey.segments) {
    if (segment.name == kSafeSegment) return segment.time;
  }
  return std::nullopt;
}

std::vector<SeenDelay> LocatedRun::safe_delays() const {
  std::vector<SeenDelay> delays;
  for (const SeenDelay& delay : leader().survey.delays) {
    if (leader().survey.segments[delay.segment].name == kSafeSegment) delays.push_back(delay);
  }
  return delays;
}

// Where lines say that the run waited for longer than a log lasts, the rest of that is left out.
void LocatedRun::add_wait(double seconds) {
  const double left = std::max(0.0, in_seconds(kLongestLog - waited_));
  waits_.emplace_back(std::llround(std::clamp(seconds, 0.0, left) * 1e9));
  waited_ += waits_.back();
}

void LocatedRun::take_commands(const Logger& logger) {
  std::vector<std::size_t> seen;  // of the survey's segments, those of the run
  for (std::size_t i = 0; i < logger.survey.segments.size() && seen.size() < plan_.size(); ++i) {
    if (logger.survey.segments[i].name != kSafeSegment) seen.push_back(i);
  }
  if (seen.empty()) return;
  leader().shift_s = logger.survey.segments[seen.front()].time;
  std::vector<double> late(logger.survey.segments.size(), 0);  // of the last row of each
  for (const SeenDelay& delay : logger.survey.delays) late[delay.segment] = delay.late;
  for (std::size_t i = 0; i < seen.size(); ++i) {
    double waited = 0;
    const double begin = logger.survey.segments[seen[i]].time;
    if (i > 0) {
      waited = begin - logger.survey.segments[seen[i - 1]].time - late[seen[i - 1]] - plan_[i - 1].length_s;
      add_wait(waited);
    }
    segments_.push_back({0, begin, true, std::max(0.0, waited)});
  }
}

void LocatedRun::keep(Logger& logger, const Alignment& alignment) {
  logger.shift_s = alignment.starts.front().log_s;
  logger.clock_error = alignment.clock_error;
  logger.shift_uncertainty_s = alignment.uncertainty_s;
  logger.clock_uncertainty = alignment.clock_uncertainty;
  logger.edges_matched = alignment.matched;
  logger.edges_planned = alignment.matched + alignment.missed;
  logger.clock = RunClock(*logger.shift_s, alignment.clock_error);
}

void LocatedRun::take_alignment(Logger& logger, const Alignment& alignment) {
  keep(logger, alignment);
  const double rate = 1 + alignment.clock_error;
  for (std::size_t i = 0; i < plan_.size(); ++i) {
    double waited = 0;
    if (i > 0) {
      waited = (alignment.starts[i].log_s - alignment.starts[i - 1].log_s) / rate - plan_[i - 1].length_s;
      add_wait(waited);
    }
    segments_.push_back({0, alignment.starts[i].log_s, alignment.starts[i].observed, std::max(0.0, waited)});
  }
}

void LocatedRun::settle(const Recording& nominal) {
  const Simulation& simulation = nominal.simulation;
  duration_ = simulation.duration_s;
  for (std::size_t i = 0; i < simulation.segment_starts.size() && i < segments_.size(); ++i) {
    segments_[i].run_s = simulation.segment_starts[i].seconds();
  }
  Logger& leader = this->leader();
  if (leader.has_commands()) {
    leader.clock = RunClock(*leader.shift_s, 0);
    std::vector<std::size_t> place(leader.survey.segments.size(), segments_.size());
    std::size_t next = 0;
    for (std::size_t i = 0; i < place.size(); ++i) {
      if (leader.survey.segments[i].name != kSafeSegment) place[i] = next++;
    }
    for (const SeenDelay& delay : leader.survey.delays) {
      if (place[delay.segment] >= segments_.size()) continue;
      const SegmentSeen& segment = segments_[place[delay.segment]];
      const double planned = segment.run_s + delay.planned;
      leader.clock.delay(planned, segment.log_s + delay.planned + delay.late - *leader.shift_s - planned, delay.width);
    }
  } else {
    find_jump(leader, edges_of(nominal.waveforms, levels_));
  }
  for (std::size_t i = 0; i < loggers_.size(); ++i) {
    if (i != leader_) locate_other(*loggers_[i], nominal);
  }
}

// The waits are known: the run is one segment, whose rows are as late as the leader's commands were.
void LocatedRun::locate_other(Logger& logger, const Recording& nominal) {
  if (!logger.survey.is_log || logger.survey.readings == 0) return;
  std::vector<Edge> planned = edges_of(nominal.waveforms, levels_);
  const RunClock& clock = leader().clock;
  const auto elapsed = [&clock](double run_s) { return clock.late_at(run_s) + run_s; };
  for (Edge& edge : planned) edge.time = elapsed(edge.time);
  const std::vector<PlannedSegment> whole{{0, elapsed(duration_), 0, 0}};
  const AlignmentResult result = align_with(logger, planned, whole);
  if (!result.alignment) {
    report_unaligned(logger.path, result.unaligned, logger.survey, duration_, *findings_);
    return;
  }
  keep(logger, *result.alignment);
  find_jump(logger, planned);
  logger.clock.delay_as(clock);
}

// Whether the log's clock was put ahead within the run: then its edges fit on either side of the gap, not on both.
void LocatedRun::find_jump(Logger& logger, const std::vector<Edge>& planned) {
  const EdgeBlur blur = blur_of(logger);
  const double tolerance = 3 * blur.interval + 2 * blur.other + 0.05;
  for (const SurveyedRail& rail : logger.survey.rails) {
    for (const SeenGap& gap : rail.of(Measured::Voltage).gaps) {
      const double length = gap.to - gap.from - rail.interval;
      if (length < kLeastJump || !is_jump(logger, planned, gap, length, tolerance)) continue;
      findings_->report(finding::LogJump, place_of_line(logger.path, gap.line, *findings_), to_text(length, "s"))
          .hint("the clock was put ahead by an hour: log in UTC, or write the offset with each time");
      cut_off_.push_back(logger.path + " after " + log_time_text(gap.from) + " of its time: its clock jumps");
      logger.judged_to = std::min(logger.judged_to, gap.from);
      segments_.front().observed = false;
      return;
    }
  }
}

bool LocatedRun::is_jump(const Logger& logger, const std::vector<Edge>& planned, const SeenGap& gap, double length,
                         double tolerance) {
  const auto count = [&](bool after, double moved) {
    std::size_t found = 0;
    for (const Edge& edge : planned) {
      const double expected = logger.clock.log_of(edge.time);
      found += static_cast<std::size_t>(
          std::any_of(logger.survey.edges.begin(), logger.survey.edges.end(), [&](const Edge& seen) {
            return seen.rail == edge.rail && seen.level == edge.level && seen.rising == edge.rising &&
                   (seen.time >= gap.to) == after && std::abs(seen.time + moved - expected) < tolerance;
          }));
    }
    return found;
  };
  return count(true, -length) > count(true, 0) || count(false, length) > count(false, 0);
}

double LocatedRun::skew_of(std::size_t rail) const {
  double skew = 0;
  for (const ChannelId member : table().rails()[rail].members) {
    skew = std::max(skew, in_seconds(table().bench().supply_of(member).timing.skew));
  }
  return skew;
}

std::string description_path(const std::string& log) {
  constexpr std::string_view kEnding = ".csv";
  const std::size_t length = log.ends_with(kEnding) ? log.size() - kEnding.size() : log.size();
  return log.substr(0, length) + ".log.yaml";
}

}  // namespace rampart::as_run
