#include "runtime/as_run/command_check.h"

#include "runtime/answer/simulation.h"
#include "runtime/as_run/run_times.h"

#include <algorithm>
#include <chrono>
#include <cmath>

namespace rampart::as_run {
namespace {

// Rows of one channel that wait for their commands: more were not sent.
constexpr std::size_t kMostWaiting = 10'000;
constexpr std::size_t kMostLateRows = 1000;

// Of a time that a log writes in seconds.
Nanoseconds to_whole(double time) {
  return Nanoseconds{std::llround(time * 1e9)};
}

std::string time_text(Nanoseconds time) {
  return to_text(in_seconds(time), "s");
}

}  // namespace

CommandCheck::CommandCheck(const Table& run, const Table* safe, const LogNames& names)
    : run_(run),
      safe_(safe),
      names_(names),
      played_(names.count()),
      off_(names.count()),
      differs_(names.count()),
      is_lost_(names.count()) {
  run_cursor_.emplace(run.rows());
}

// False for what is no segment of the table.
bool CommandCheck::begin(std::string_view segment, const LogCommand& first, double log_s) {
  if (!segment_.empty()) end_segment(log_s);
  segment_ = segment;
  for (Played& one : played_) one = Played{};
  ahead_.reset();
  is_over_ = false;
  segment_begin_ = zero_.of(segment, first, first.acknowledged_s.value_or(log_s));
  late_ = 0;
  if (segment == kSafeSegment) {
    if (safe_ == nullptr) return false;
    is_stopped_ = true;
    safe_cursor_.emplace(safe_->rows());
    cursor_ = &*safe_cursor_;
    return true;
  }
  cursor_ = &*run_cursor_;
  ++number_;
  return segment == std::to_string(number_);
}

void CommandCheck::end_segment(double log_s) {
  const bool is_run = cursor_ == &*run_cursor_;
  if (cursor_ == nullptr) return;
  if (is_run ? is_stopped_ : is_given_up_) return;
  advance(Nanoseconds::max());
  for (std::size_t target = 0; target < played_.size(); ++target) {
    for (const Expected& row : played_[target].waiting) miss(target, row, log_s);
    played_[target].waiting.clear();
  }
}

bool CommandCheck::may_follow(const Expected& row) const {
  return end_s_ && segment_begin_ && *segment_begin_ + in_seconds(row.time) + late_ > *end_s_;
}

void CommandCheck::advance(Nanoseconds time) {
  while (!is_over_) {
    if (!ahead_) ahead_ = cursor_->next();
    if (!ahead_ || std::holds_alternative<SegmentEnded>(*ahead_)) {
      is_over_ = true;
      if (ahead_) {
        const SegmentEnded& end = std::get<SegmentEnded>(*ahead_);
        segment_length_ = end.time;
        longest_wait_ = end.await == nullptr ? Nanoseconds{0} : end.await->within;
      }
      ahead_.reset();
      return;
    }
    if (const auto* row = std::get_if<Row>(&*ahead_)) {
      if (row->time > time) return;
      add(*row);
    } else if (const auto* line = std::get_if<LineRow>(&*ahead_)) {
      if (line->time > time) return;
      add(*line);
    }
    ahead_.reset();
  }
}

void CommandCheck::add(const Row& row) {
  Setting news;
  if (row.known.voltage) news.voltage = row.voltage;
  // No limit was set.
  if (row.known.limit && row.current != 0) news.current = row.current;
  if (row.known.output) news.output = row.output;
  add(names_.of_channel(row.channel), row.time, news, row.statement);
}

void CommandCheck::add(const LineRow& row) {
  const Line& line = run_.profile()[row.line];
  const std::string& supply = run_.bench().supplies[static_cast<std::size_t>(line.supply)].name;
  const std::optional<std::size_t> target = names_.find_channel(supply + "." + line.terminal);
  if (target) add(*target, row.time, {{}, {}, row.high}, row.statement);
}

// A player sends what is new, and may send a row that has nothing new.
void CommandCheck::add(std::size_t target, Nanoseconds time, Setting news, const Span& statement) {
  Played& played = played_[target];
  const auto keep_new = [](auto& value, auto& last) {
    if (value == last) {
      value.reset();
    } else if (value) {
      last = value;
    }
  };
  keep_new(news.voltage, played.last.voltage);
  keep_new(news.current, played.last.current);
  keep_new(news.output, played.last.output);
  if (played.waiting.size() >= kMostWaiting) {
    miss(target, played.waiting.front(), last_log_s_);
    played.waiting.pop_front();
  }
  played.waiting.push_back({time, news, played.last, statement});
}

Nanoseconds CommandCheck::tolerance_of(std::size_t target) const {
  constexpr Nanoseconds kMost = std::chrono::microseconds(500);
  const LogNames::Target& named = names_[target];
  if (named.of != LogNames::Of::Channel) return kMost;
  const auto channel = static_cast<ChannelId>(named.index);
  return std::min(kMost, run_.bench().supply_of(channel).timing.minimum_step / 2);
}

double CommandCheck::step_of(std::size_t target, bool volts) const {
  const OutputLimits& limits = run_.bench().channels[names_[target].index].limits;
  return volts ? limits.voltage_resolution.to_double() : limits.current_resolution.to_double();
}

void CommandCheck::take(const LogCommand& command, std::string_view segment, double log_s) {
  last_log_s_ = log_s;
  if (!command.planned_s) {
    ++not_compared_;
    if (command.output == false) off_[command.target] = true;
    return;
  }
  const std::string_view name = segment.empty() ? "1" : segment;
  if (name != segment_ && !begin(name, command, log_s)) cursor_ = nullptr;
  if (cursor_ == nullptr) {
    ++not_compared_;
    return;
  }
  ++compared_;
  const Nanoseconds planned = to_whole(*command.planned_s);
  const Nanoseconds tolerance = tolerance_of(command.target);
  advance(planned + tolerance);
  std::deque<Expected>& waiting = played_[command.target].waiting;
  while (!waiting.empty() && waiting.front().time < planned - tolerance) {
    miss(command.target, waiting.front(), log_s);
    waiting.pop_front();
  }
  note_lateness(command, log_s);
  if (waiting.empty() || waiting.front().time > planned + tolerance) {
    const bool switches_off = command.output == false && !command.volts && !command.amps;
    if (switches_off && is_off_already(command.target)) return;
    report(CommandFault::Extra, command.target, {planned, {}, {}, {}}, log_s, "is not in the table");
    follow(command.target, planned, command, {});
    return;
  }
  const Expected row = waiting.front();
  waiting.pop_front();
  compare(command.target, row, command, log_s);
  follow(command.target, planned, command, row.statement);
}

bool CommandCheck::can_follow(std::size_t target) const {
  if (names_[target].of != LogNames::Of::Channel || is_lost_[target]) return false;
  const Supply& supply = run_.bench().supply_of(static_cast<ChannelId>(names_[target].index));
  return supply.timing.interpolation == Interpolation::Hold;
}

bool CommandCheck::is_followed(std::string_view channel) const {
  const std::optional<std::size_t> target = names_.find_channel(channel);
  return target && can_follow(*target);
}

void CommandCheck::follow(std::size_t target, Nanoseconds planned, const LogCommand& command, const Span& statement) {
  if (cursor_ != &*run_cursor_ || !differs_[target] || !can_follow(target)) return;
  Row row;
  row.time = planned;
  row.statement = statement;
  row.known = {command.volts.has_value(), command.amps.has_value(), command.output.has_value()};
  if (command.volts) row.voltage = std::llround(*command.volts / step_of(target, true));
  if (command.amps) row.current = std::llround(*command.amps / step_of(target, false));
  row.output = command.output.value_or(false);
  keep(target, row);
}

void CommandCheck::keep(std::size_t target, Row row) {
  if (commanded_.size() >= kMostCommanded || number_ > static_cast<std::int64_t>(kMaxSegmentStarts)) {
    is_lost_[target] = true;
    return;
  }
  row.channel = static_cast<ChannelId>(names_[target].index);
  row.voltage_until = row.voltage;
  row.current_until = row.current;
  commanded_.push_back({static_cast<std::size_t>(number_ - 1), row});
}

void CommandCheck::note_lateness(const LogCommand& command, double log_s) {
  const double time = command.acknowledged_s.value_or(log_s);
  const double late = time - *segment_begin_ - *command.planned_s;
  latest_ = std::max(latest_, late);
  if (late <= late_ + kSameLate) return;
  if (late_rows_.size() < kMostLateRows) {
    const std::deque<Expected>& waiting = played_[command.target].waiting;
    LateRow row;
    row.channel = names_[command.target].name;
    row.segment = segment_;
    row.planned_s = *command.planned_s;
    row.late_s = late - late_;
    row.total_s = late;
    row.log_s = log_s;
    if (!waiting.empty()) row.statement = waiting.front().statement;
    late_rows_.push_back(std::move(row));
  }
  late_ = late;
}

void CommandCheck::compare(std::size_t target, const Expected& row, const LogCommand& command, double log_s) {
  const bool is_channel = names_[target].of == LogNames::Of::Channel;
  std::string wrong;
  const auto differ = [&](const std::optional<double>& sent, const std::optional<std::int64_t>& news,
                          const std::optional<std::int64_t>& wanted, bool volts) {
    const std::string_view unit = volts ? "V" : "A";
    if (!is_channel || (!sent && !news)) return;
    const double step = step_of(target, volts);
    const bool same = sent && wanted && std::abs(*sent - static_cast<double>(*wanted) * step) < step / 2;
    if (same) return;
    if (!wrong.empty()) wrong += ", and ";
    wrong += sent ? "sets " + to_text(*sent, unit) : "sets no " + std::string(volts ? "voltage" : "current limit");
    if (wanted) wrong += " instead of " + to_text(static_cast<double>(*wanted) * step, unit);
  };
  differ(command.volts, row.news.voltage, row.whole.voltage, true);
  differ(command.amps, row.news.current, row.whole.current, false);
  const std::optional<bool>& wanted = row.whole.output;
  const bool is_left_off = !command.output && is_off_already(target);
  if ((command.output || row.news.output) && command.output != wanted && !is_left_off) {
    if (!wrong.empty()) wrong += ", and ";
    wrong += command.output ? (*command.output ? "switches on" : "switches off") : "does not switch";
    if (wanted) wrong += std::string(", but in the table it is ") + (*wanted ? "on" : "off");
  }
  if (!wrong.empty()) report(CommandFault::Value, target, row, log_s, wrong);
}

std::string CommandCheck::setting_text(std::size_t target, const Setting& news) const {
  std::string text;
  const auto add = [&text](const std::string& words) { text += (text.empty() ? "" : ", ") + words; };
  if (news.voltage) add(to_text(static_cast<double>(*news.voltage) * step_of(target, true), "V"));
  if (news.current) add(to_text(static_cast<double>(*news.current) * step_of(target, false), "A"));
  if (news.output) add(*news.output ? "on" : "off");
  return text;
}

void CommandCheck::miss(std::size_t target, const Expected& row, double log_s) {
  if (row.news.is_empty()) return;
  const bool only_switches = !row.news.voltage && !row.news.current;
  if (only_switches && is_off_already(target)) return;
  if (may_follow(row)) {
    is_broken_off_ = true;
    return;
  }
  const double due = segment_begin_ ? *segment_begin_ + in_seconds(row.time) + late_ : log_s;
  report(CommandFault::Missing, target, row, due, "was not sent (" + setting_text(target, row.news) + ")");
}

// What goes on alike at one channel is told once.
void CommandCheck::report(CommandFault fault, std::size_t target, const Expected& row, double log_s,
                          const std::string& text) {
  if (cursor_ == &*run_cursor_ && !differs_[target]) {
    differs_[target] = true;
    Row missing;
    missing.time = row.time;
    missing.known = {false, false, false};
    missing.statement = row.statement;
    if (can_follow(target)) keep(target, missing);
  }
  for (auto last = differences_.rbegin(); last != differences_.rend(); ++last) {
    if (last->channel != names_[target].name) continue;
    if (last->fault != fault || last->segment != segment_) break;
    ++last->count;
    last->to_s = in_seconds(row.time);
    return;
  }
  if (differences_.size() >= kMostDifferences) {
    ++left_out_;
    return;
  }
  CommandDifference difference;
  difference.fault = fault;
  difference.channel = names_[target].name;
  difference.segment = segment_;
  difference.from_s = difference.to_s = in_seconds(row.time);
  difference.log_s = log_s;
  difference.statement = row.statement;
  difference.text = (fault == CommandFault::Missing ? "the row" : "the command") + (" of `" + difference.channel) +
                    "` at " + time_text(row.time) + " of segment " + segment_ + " " + text;
  differences_.push_back(std::move(difference));
}

void CommandCheck::take(const LogEvent& event, double log_s) {
  zero_.take(event, log_s);
  if (event.word == "end") has_end_ = true;
  const bool is_off = event.word == "trip" || event.word == "off";
  if (is_off && event.target) off_[*event.target] = true;
  if (ends_safe(event.word, event.rest)) is_given_up_ = true;
  if (is_off || event.word == "stop") is_stopped_ = true;
}

void CommandCheck::finish(double end_s, double room) {
  if (!has_end_) end_s_ = end_s - room;
  if (segment_.empty()) return;
  end_segment(last_log_s_);
  if (!is_stopped_) finish_segments();
}

// Segments that were never begun: after the longest wait for them they are missed.
void CommandCheck::finish_segments() {
  cursor_ = &*run_cursor_;
  while (true) {
    is_over_ = false;
    ahead_ = cursor_->next();
    if (!ahead_) break;
    if (segment_begin_) *segment_begin_ += in_seconds(segment_length_ + longest_wait_);
    segment_ = std::to_string(++number_);
    for (Played& one : played_) one = Played{};
    end_segment(last_log_s_);
  }
  is_over_ = true;
}

}  // namespace rampart::as_run
