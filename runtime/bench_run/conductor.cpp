#include "runtime/bench_run/conductor.h"

#include <algorithm>
#include <csignal>
#include <ctime>

#include "lang/text/overloaded.h"
#include "lang/values/short_text.h"
#include "runtime/bench_run/dry_run.h"

namespace rampart::bench_run {
namespace {

using link::MessageKind;

constexpr auto kLook = std::chrono::milliseconds(50);
constexpr auto kBetweenStatus = std::chrono::milliseconds(250);
// This computer stands still if it does not come round for so long.
constexpr auto kStandstill = std::chrono::milliseconds(250);
constexpr auto kSuspended = std::chrono::milliseconds(50);
constexpr Nanoseconds kMostTolerance = std::chrono::milliseconds(1);
// IEEE 488.2, 11.5.1.1: operation complete and request control say nothing of the outputs.
constexpr int kHarmlessEvents = 1 | 2;
constexpr int kPowerOn = 128;
constexpr int kUserRequest = 64;

// How long this computer was suspended since it was started: what one clock counts and the other does not.
Nanoseconds time_asleep() {
  timespec with{};
  timespec without{};
  clock_gettime(CLOCK_BOOTTIME, &with);
  clock_gettime(CLOCK_MONOTONIC, &without);
  return std::chrono::seconds(with.tv_sec - without.tv_sec) + Nanoseconds(with.tv_nsec - without.tv_nsec);
}

std::string words(Nanoseconds time) {
  return short_text(static_cast<double>(time.count()) * 1e-9, "s");
}

// A tenth of the shortest time between two rows of one supply, and no more than a millisecond.
Nanoseconds tolerance_of(const Plan& plan) {
  Nanoseconds least = kMostTolerance;
  for (const PlanSupply& supply : plan.supplies) {
    if (supply.shortest_gap) least = std::min(least, *supply.shortest_gap / 10);
  }
  return least;
}

std::string signal_words(int number) {
  switch (number) {
    case SIGINT:
      return "stopped by Ctrl-C";
    case SIGHUP:
      return "stopped because the terminal was closed (HUP)";
    case SIGQUIT:
      return "stopped by Ctrl-\\";
    default:
      return "stopped by a signal (TERM)";
  }
}

std::string event_words(const std::string& supply, int bits) {
  if ((bits & kPowerOn) != 0) return supply + " was switched off and on";
  if ((bits & kUserRequest) != 0) return "someone used the front panel of " + supply;
  return supply + " reports an error (event status " + std::to_string(bits) + ")";
}

}  // namespace

Conductor::Conductor(const Plan& plan, std::vector<ReadySupply>& supplies, Nanoseconds max_late, RunView& view,
                     Person& person, Mailbox& mailbox)
    : plan_(plan),
      supplies_(supplies),
      max_late_(max_late),
      tolerance_(tolerance_of(plan)),
      view_(view),
      person_(person),
      mailbox_(mailbox),
      is_waiting_(plan.supplies.size()),
      is_given_up_(plan.supplies.size()),
      outputs_(plan.supplies.size()),
      shown_(plan.channels.size()),
      recent_(plan) {}

Conductor::~Conductor() = default;

RunEnd Conductor::play(TableItems& items) {
  asleep_ = time_asleep();
  last_look_ = last_status_ = begin_ = Clock::now();
  for (std::size_t i = 0; i < plan_.supplies.size(); ++i) {
    workers_.push_back(
        std::make_unique<SupplyWorker>(plan_, i, *supplies_[i].instrument, supplies_[i].round_trip, mailbox_));
  }
  log_event("start");
  run(items);
  end_.is_complete = !stop_;
  if (stop_) play_safe();
  phase_ = Phase::End;
  collect_outputs();
  end_.reason = stop_.value_or("played to its end");
  end_.has_failed = has_failed_;
  end_.duration = since_start(Clock::now());
  log_event("end " + end_.reason);
  workers_.clear();
  return std::move(end_);
}

void Conductor::run(TableItems& items) {
  while (!stop_) {
    const std::optional<TableItem> item = items.next();
    if (!item) break;
    const auto* begin = std::get_if<SegmentBegin>(&*item);
    if (begin != nullptr && begin->name == "safe") return;
    std::visit(Overloaded{[this](const SegmentBegin& what) { begin_segment(what); },
                          [this](const TableInstant& what) { play_instant(what); },
                          [this](const SegmentEnd& what) { end_segment(what); }},
               *item);
  }
  if (!items.mistake().empty()) stop("the table breaks off: " + items.mistake(), true);
}

void Conductor::begin_segment(const SegmentBegin& begin) {
  take_mail(Clock::now());
  if (stops()) return;
  writer_.forget();
  segment_ = begin.name;
  segment_begin_ = Clock::now();
  if (segment_ == "1") begin_ = segment_begin_;
  agenda_ = Agenda(begin);
  log_event("segment " + segment_);
}

void Conductor::end_segment(const SegmentEnd& end) {
  next_ = end.then ? "wait for " + wait_text(*end.then) : "the end";
  next_due_ = segment_begin_ + end.duration;
  if (!wait_until(next_due_) || !wait_for_answers(std::vector<bool>(is_waiting_.size(), true))) return;
  played_ += end.duration;
  if (end.then && phase_ == Phase::Run) wait(*end.then);
}

std::vector<bool> Conductor::told_by(const TableInstant& instant) const {
  std::vector<bool> told(plan_.supplies.size());
  for (const TableRow& row : instant.rows) {
    if (const auto channel = plan_.find_channel(row.name)) told[plan_.channels[*channel].supply] = true;
    if (const auto line = plan_.find_line(row.name)) told[plan_.lines[*line].supply] = true;
  }
  return told;
}

void Conductor::play_instant(const TableInstant& instant) {
  const std::vector<bool> told = told_by(instant);
  const Clock::time_point due = segment_begin_ + instant.time;
  next_ = "rows of " + (instant.rows.size() == 1 ? instant.rows.front().name
                                                 : std::to_string(instant.rows.size()) + " channels or lines");
  next_due_ = due;
  for (std::size_t i = 0; i < told.size(); ++i) {
    if (told[i]) workers_[i]->keep_free_from(due);
  }
  if (!wait_until(due) || !wait_for_answers(told)) return;
  const Nanoseconds late = Clock::now() - due;
  if (late > tolerance_) {
    // All supplies move by the same time, so no two rows come closer than in the table.
    segment_begin_ += late;
    end_.lateness.shifted += late;
    if (phase_ == Phase::Run && end_.lateness.shifted > max_late_) {
      return stop("late rows have moved the run by " + words(end_.lateness.shifted) + ", more than the " +
                      to_text(max_late_) + " of --max-late",
                  false);
    }
  }
  send(instant, due);
}

void Conductor::send(const TableInstant& instant, Clock::time_point due) {
  std::vector<SupplyWorker::Rows> all(plan_.supplies.size());
  for (TableRow row : instant.rows) {
    if (const auto channel = plan_.find_channel(row.name)) {
      const PlanChannel& planned = plan_.channels[*channel];
      // An output that has tripped stays off.
      if (shown_[*channel].is_tripped && row.output == true) row.output.reset();
      SupplyWorker::Rows& rows = all[planned.supply];
      TableRow news = writer_.news(row);
      const auto texts = writer_.messages(planned, *plan_.supplies[planned.supply].link, row);
      if (!texts || texts->empty()) continue;
      rows.messages.insert(rows.messages.end(), texts->begin(), texts->end());
      rows.rows.push_back(std::move(news));
    } else if (const auto line = plan_.find_line(row.name)) {
      const PlanLine& planned = plan_.lines[*line];
      const auto texts = RowWriter::messages(planned, *plan_.supplies[planned.supply].link, row);
      if (!texts || texts->empty()) continue;
      SupplyWorker::Rows& rows = all[planned.supply];
      rows.messages.insert(rows.messages.end(), texts->begin(), texts->end());
      rows.rows.push_back(row);
    }
  }
  for (std::size_t i = 0; i < all.size(); ++i) {
    workers_[i]->keep_free_from(Clock::time_point::max());
    if (all[i].messages.empty() || is_given_up_[i]) continue;
    all[i].due = due;
    all[i].planned = instant.time;
    is_waiting_[i] = true;
    workers_[i]->send(std::move(all[i]));
  }
}

// What has come up to this time.
void Conductor::do_due(Clock::time_point time) {
  while (const Due* due = agenda_.next_before(time - segment_begin_)) act(*due);
}

void Conductor::act(const Due& due) {
  switch (due.act) {
    case Act::Mark:
      return log_event("mark " + due.name);
    case Act::BeginMeasurement:
      ++measuring_;
      return press_readings();
    case Act::EndMeasurement:
      --measuring_;
      log_event("measure " + due.name);
      view_.note("measure " + due.name + ":" + recent_.means(segment_begin_ + due.time - due.over));
      return press_readings();
  }
}

// Readings follow each other without a pause while they are asked for.
void Conductor::press_readings() {
  const bool is_wanted = measuring_ > 0 || is_condition_awaited_;
  for (const std::unique_ptr<SupplyWorker>& worker : workers_) worker->read_without_pause(is_wanted);
  if (!is_wanted) recent_.clear();
}

// False if something came between.
bool Conductor::wait_until(Clock::time_point time) {
  while (!stops()) {
    Clock::time_point next = std::min(time, Clock::now() + kLook);
    if (const auto act = agenda_.next_time()) next = std::min(next, segment_begin_ + *act);
    take_mail(next);
    if (stops()) return false;
    const Clock::time_point now = Clock::now();
    do_due(std::min(now, time));
    if (now >= time) return true;
  }
  return false;
}

bool Conductor::wait_for_answers(const std::vector<bool>& supplies) {
  const auto is_outstanding = [&] {
    for (std::size_t i = 0; i < supplies.size(); ++i) {
      if (supplies[i] && is_waiting_[i]) return true;
    }
    return false;
  };
  while (!stops() && is_outstanding()) take_mail(Clock::now() + kLook);
  return !stops();
}

void Conductor::take_mail(Clock::time_point until) {
  for (const Mail& mail : mailbox_.take(until)) handle(mail);
  keep_watch();
  if (Clock::now() - last_status_ >= kBetweenStatus) show_status();
}

void Conductor::keep_watch() {
  const Clock::time_point now = Clock::now();
  const Nanoseconds gap = now - last_look_;
  last_look_ = now;
  const Nanoseconds asleep = time_asleep() - asleep_;
  if (phase_ != Phase::Run || stop_) return;
  if (asleep > kSuspended) {
    stop("this computer was suspended for " + words(asleep), true);
  } else if (gap > kStandstill + max_late_) {
    stop("this computer stood still for " + words(gap), true);
  }
}

void Conductor::handle(const Mail& mail) {
  std::visit([&](const auto& what) { handle(mail, what); }, mail.what);
}

void Conductor::handle(const Mail& mail, const Acked& acked) {
  is_waiting_[mail.supply] = false;
  for (const TableRow& row : acked.rows) {
    LogRow line;
    line.kind = LogKind::Command;
    line.channel = row.name;
    line.set_V = row.voltage;
    line.set_A = row.current;
    line.output = row.output;
    line.planned = acked.planned;
    line.sent = since_start(acked.sent);
    line.acked = since_start(mail.at);
    log(std::move(line), mail.at);
    const std::optional<std::size_t> channel = plan_.find_channel(row.name);
    if (!channel) continue;
    Shown& shown = shown_[*channel];
    if (row.output) shown.is_on = *row.output;
    if (row.voltage) shown.set_V = row.voltage;
    if (row.current) shown.set_A = row.current;
  }
  if (phase_ != Phase::Run || stop_) return;
  const Nanoseconds late = mail.at - acked.due;
  ++end_.lateness.groups;
  end_.lateness.worst = std::max(end_.lateness.worst, late);
  if (late > max_late_) {
    stop(plan_.supplies[mail.supply].link->name + ": a row was acknowledged " + words(late) +
             " after its time, more than the " + to_text(max_late_) + " of --max-late",
         false);
  }
}

void Conductor::handle(const Mail& mail, const Reading& reading) {
  Shown& shown = shown_[reading.channel];
  shown.measured_V = reading.volts;
  shown.measured_A = reading.amps;
  if (measuring_ > 0 || is_condition_awaited_) recent_.take(reading);
  LogRow line;
  line.kind = LogKind::Reading;
  line.channel = plan_.channels[reading.channel].name;
  line.measured_V = reading.volts;
  line.measured_A = reading.amps;
  line.set_V = reading.set_V;
  line.set_A = reading.set_A;
  line.output = reading.output;
  line.quality = reading.quality;
  log(std::move(line), mail.at);
}

void Conductor::handle(const Mail&, const Tripped& tripped) {
  const std::string& name = plan_.channels[tripped.channel].name;
  shown_[tripped.channel].is_on = false;
  shown_[tripped.channel].is_tripped = true;
  log_event("trip " + tripped.cause, name);
  switch_off_joined(tripped.channel, tripped.cause == "fuse" || tripped.cause == "unknown");
  stop(name + " tripped: " + tripped.cause, false);
}

// Members of a combination go off whatever trips one of them; so do rails linked with its fuse.
void Conductor::switch_off_joined(std::size_t channel, bool by_fuse) {
  std::vector<std::size_t> others = plan_.channels[channel].switched_off_by_trip;
  const std::vector<std::size_t>& linked = plan_.channels[channel].switched_off_by_fuse;
  if (by_fuse) others.insert(others.end(), linked.begin(), linked.end());
  for (const std::size_t other : others) {
    const PlanChannel& planned = plan_.channels[other];
    if (is_given_up_[planned.supply]) continue;
    const auto text =
        plan_.supplies[planned.supply].link->messages.filled(MessageKind::OutputOff, {planned.subject, {}});
    if (!text) continue;
    shown_[other].is_tripped = true;
    is_waiting_[planned.supply] = true;
    workers_[planned.supply]->send(
        {{*text}, {{planned.name, std::nullopt, std::nullopt, false}}, Clock::now(), Nanoseconds::zero()});
  }
}

void Conductor::handle(const Mail&, const Changed& changed) {
  stop(changed.what, true);
}

void Conductor::handle(const Mail& mail, const Events& events) {
  const std::string& supply = plan_.supplies[mail.supply].link->name;
  log_event("status " + supply + " " + std::to_string(events.bits));
  if ((events.bits & ~kHarmlessEvents) != 0) stop(event_words(supply, events.bits), true);
}

void Conductor::handle(const Mail&, const LineLevel& level) {
  level_ = level;
}

void Conductor::handle(const Mail& mail, const Trouble& trouble) {
  is_waiting_[mail.supply] = false;
  if (phase_ == Phase::Run) {
    stop(trouble.why, true);
  } else if (phase_ == Phase::Safe) {
    switch_off_supply(mail.supply);
  }
}

void Conductor::handle(const Mail& mail, const Outputs& outputs) {
  is_waiting_[mail.supply] = false;
  outputs_[mail.supply] = outputs.states;
}

void Conductor::handle(const Mail&, const SignalCame& signal) {
  ++signals_;
  if (phase_ == Phase::Run && !stop_) {
    stop(signal_words(signal.number), false);
    return;
  }
  if (!is_off_wanted_) log_event("stop all outputs off at once: " + signal_words(signal.number));
  is_off_wanted_ = true;
}

void Conductor::handle(const Mail&, const LogFailed& failed) {
  stop("the log cannot be written: " + failed.why, true);
}

void Conductor::stop(const std::string& reason, bool is_failure) {
  has_failed_ = has_failed_ || is_failure;
  if (stop_ || phase_ != Phase::Run) return;
  stop_ = reason;
  log_event("stop " + reason);
}

void Conductor::play_safe() {
  phase_ = Phase::Safe;
  if (!plan_.has_safe) return;
  segment_ = "safe";
  writer_.forget();
  agenda_ = {};
  measuring_ = 0;
  is_condition_awaited_ = false;
  press_readings();
  for (const std::unique_ptr<SupplyWorker>& worker : workers_) worker->watch_line(std::nullopt);
  if (!wait_for_answers(std::vector<bool>(is_waiting_.size(), true))) return;
  segment_begin_ = Clock::now();
  log_event("safe");
  for (const TableItem& item : plan_.safe) {
    if (stops()) return;
    if (const auto* instant = std::get_if<TableInstant>(&item)) play_instant(*instant);
    if (const auto* end = std::get_if<SegmentEnd>(&item)) end_segment(*end);
  }
}

void Conductor::switch_off_supply(std::size_t supply) {
  if (is_given_up_[supply]) return;
  is_given_up_[supply] = true;
  outputs_[supply].reset();
  for (const std::size_t channel : plan_.supplies[supply].channels) shown_[channel].is_on = false;
  workers_[supply]->switch_off_now();
}

void Conductor::collect_outputs() {
  const bool all_off = is_off_wanted_ || (stop_ && !plan_.has_safe);
  for (std::size_t i = 0; i < workers_.size(); ++i) {
    if (all_off) switch_off_supply(i);
    if (!is_given_up_[i]) workers_[i]->read_outputs();
  }
  const auto all_known = [this] {
    return std::all_of(outputs_.begin(), outputs_.end(), [](const auto& known) { return known.has_value(); });
  };
  while (true) {
    while (!all_known()) {
      take_mail(Clock::now() + kLook);
      for (std::size_t i = 0; is_off_wanted_ && i < workers_.size(); ++i) switch_off_supply(i);
    }
    // An output that should be off and is not, or does not say so, is told again.
    for (std::size_t i = 0; i < workers_.size(); ++i) {
      for (std::size_t k = 0; k < plan_.supplies[i].channels.size() && outputs_[i]; ++k) {
        const bool should_be_on = shown_[plan_.supplies[i].channels[k]].is_on;
        if (!should_be_on && !(*outputs_[i])[k].is_off()) switch_off_supply(i);
        if (is_given_up_[i]) break;
      }
    }
    if (all_known()) break;
  }
  for (std::size_t channel = 0; channel < plan_.channels.size(); ++channel) {
    const PlanSupply& supply = plan_.supplies[plan_.channels[channel].supply];
    const auto place = std::find(supply.channels.begin(), supply.channels.end(), channel) - supply.channels.begin();
    const OutputState& state = (*outputs_[plan_.channels[channel].supply])[static_cast<std::size_t>(place)];
    if (shown_[channel].is_on && state.known == Known::On) end_.left_on.push_back(state.channel);
    end_.outputs.push_back(state);
  }
}

std::string Conductor::prompt_text(const std::string& prompt) const {
  std::string on;
  for (std::size_t i = 0; i < shown_.size(); ++i) {
    if (!shown_[i].is_on) continue;
    on += (on.empty() ? "" : ", ") + plan_.channels[i].name;
    if (shown_[i].set_V) on += " (" + to_text(Volts{*shown_[i].set_V}) + ")";
  }
  return "outputs that are on: " + (on.empty() ? "none" : on) + "\n" + prompt + "\nType yes when it is done: ";
}

void Conductor::wait(const TableWait& wait) {
  const Clock::time_point begin = Clock::now();
  const Clock::time_point until = begin + wait.within;
  const auto* asked = std::get_if<OperatorWait>(&wait.what);
  const auto* line = std::get_if<LineWait>(&wait.what);
  const auto* condition = std::get_if<ConditionWait>(&wait.what);
  const std::string text = wait_text(wait);
  next_ = "end of the wait for " + text;
  next_due_ = until;
  log_event("wait-begin " + text);
  level_.reset();
  const std::optional<std::size_t> known_line = line != nullptr ? plan_.find_line(line->line) : std::nullopt;
  if (known_line) workers_[plan_.lines[*known_line].supply]->watch_line(known_line);
  if (asked != nullptr) person_.ask(prompt_text(asked->prompt));
  is_condition_awaited_ = condition != nullptr;
  press_readings();
  while (!stops()) {
    if (asked != nullptr) {
      const std::optional<bool> answer = person_.answer();
      if (answer == true) return end_wait("operator");
      if (answer == false) return stop("the operator did not say yes to: " + asked->prompt, false);
    }
    if (known_line && level_ && level_->line == *known_line && level_->asked >= begin && level_->high == line->high) {
      workers_[plan_.lines[*known_line].supply]->watch_line(std::nullopt);
      return end_wait("line");
    }
    // One reading may be a glitch: two in a row, both begun after the wait did.
    if (condition != nullptr && recent_.holds(*condition, 0, begin) == true &&
        recent_.holds(*condition, 1, begin) == true) {
      return end_wait("condition");
    }
    if (Clock::now() >= until) {
      log_event("wait-end timeout");
      return stop("the wait for " + text + " timed out", false);
    }
    take_mail(std::min(until, Clock::now() + kLook));
  }
}

void Conductor::end_wait(const std::string& how) {
  is_condition_awaited_ = false;
  press_readings();
  log_event("wait-end " + how);
}

Nanoseconds Conductor::since_start(Clock::time_point time) const {
  return std::max(Nanoseconds::zero(), std::chrono::duration_cast<Nanoseconds>(time - begin_));
}

void Conductor::log(LogRow row, Clock::time_point at) {
  // Threads may post in another order than they read the clock.
  last_time_ = std::max(last_time_, since_start(at));
  row.time = last_time_;
  row.segment = segment_;
  view_.log(row);
}

void Conductor::log_event(const std::string& text, const std::string& channel) {
  LogRow row;
  row.channel = channel;
  row.text = text;
  log(std::move(row), Clock::now());
}

void Conductor::show_status() {
  last_status_ = Clock::now();
  RunStatus status;
  status.segment = segment_;
  status.time = since_start(last_status_);
  if (phase_ == Phase::Run) {
    const Nanoseconds now = std::min<Nanoseconds>(last_status_ - segment_begin_, next_due_ - segment_begin_);
    status.left = std::max(Nanoseconds::zero(), plan_.duration - played_ - std::max(Nanoseconds::zero(), now));
  }
  status.next = next_;
  if (next_due_ > last_status_) status.next += " in " + words(next_due_ - last_status_);
  for (const TableRail& rail : plan_.head.rails) {
    RailStatus& shown = status.rails.emplace_back();
    shown.rail = rail.rail;
    const double sign = rail.is_reversed ? -1 : 1;
    bool is_first = true;
    for (const std::string& name : rail.channels) {
      const std::optional<std::size_t> channel = plan_.find_channel(name);
      if (!channel) continue;
      const Shown& one = shown_[*channel];
      const auto add = [&](std::optional<double>& sum, const std::optional<double>& value, bool adds) {
        if (is_first)
          sum = value;
        else if (adds && sum && value)
          *sum += *value;
      };
      const auto set = one.set_V ? std::optional(sign * one.set_V->to_double()) : std::nullopt;
      const auto volts = one.measured_V ? std::optional(sign * *one.measured_V) : std::nullopt;
      add(shown.set_V, set, rail.in_series);
      add(shown.measured_V, volts, rail.in_series);
      add(shown.measured_A, one.measured_A, !rail.in_series);
      shown.is_on = (is_first || shown.is_on) && one.is_on;
      is_first = false;
    }
  }
  view_.status(status);
}

}  // namespace rampart::bench_run
