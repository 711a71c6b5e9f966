#include "runtime/bench_run/conductor.h"

#include <algorithm>

#include "lang/text/overloaded.h"
#include "runtime/bench_run/words.h"

namespace rampart::bench_run {
namespace {

constexpr auto kLook = std::chrono::milliseconds(50);
constexpr auto kBetweenStatus = std::chrono::milliseconds(250);
// After this a person is told what takes so long.
constexpr auto kSilence = std::chrono::seconds(1);
constexpr Nanoseconds kMostTolerance = std::chrono::milliseconds(1);

// A tenth of the shortest time between two rows of one supply, and no more than a millisecond.
Nanoseconds tolerance_of(const Plan& plan) {
  Nanoseconds least = kMostTolerance;
  for (const PlanSupply& supply : plan.supplies) {
    if (supply.shortest_gap) least = std::min(least, *supply.shortest_gap / 10);
  }
  return least;
}

}  // namespace

Conductor::Conductor(const Plan& plan, std::vector<ReadySupply>& supplies, Nanoseconds max_late, RunView& view,
                     Person& person, Mailbox& mailbox)
    : plan_(plan),
      max_late_(max_late),
      tolerance_(tolerance_of(plan)),
      view_(view),
      person_(person),
      mailbox_(mailbox),
      crew_(plan, supplies, mailbox),
      board_(plan),
      journal_(view),
      recent_(plan),
      last_status_(Clock::now()) {}

RunEnd Conductor::play(TableItems& items) {
  journal_.event("start");
  run(items);
  RunEnd end;
  end.is_complete = !stop_;
  if (stop_) play_safe();
  phase_ = Phase::End;
  collect_outputs();
  for (std::size_t channel = 0; channel < plan_.channels.size(); ++channel) {
    const OutputState& state = crew_.output(channel);
    if (board_.is_on(channel) && state.known == Known::On) end.left_on.push_back(state.channel);
    end.outputs.push_back(state);
  }
  end.reason = stop_.value_or("played to its end");
  for (const std::string& remark : remarks_) end.reason += "; " + remark;
  end.has_failed = has_failed_;
  end.lateness = lateness_;
  end.lateness.shifted = schedule_.most_behind();
  end.duration = journal_.since_start(Clock::now());
  journal_.event("end " + end.reason);
  return end;
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
  if (const std::string mistake = items.mistake(); !mistake.empty()) stop("the table ends too soon: " + mistake, true);
}

void Conductor::begin_segment(const SegmentBegin& begin) {
  take_mail(Clock::now());
  if (stops()) return;
  crew_.forget_rows();
  schedule_.begin(Clock::now());
  if (begin.name == "1") journal_.begin(schedule_.origin());
  journal_.enter_segment(begin.name);
  agenda_ = Agenda(begin);
  journal_.event("segment " + begin.name);
}

void Conductor::play_instant(const TableInstant& instant) {
  const std::vector<bool> told = crew_.told_by(instant);
  const Clock::time_point due = schedule_.next(instant.time);
  next_ = rows_text(instant);
  next_due_ = due;
  crew_.keep_free(told, due);
  if (!wait_until(due) || !wait_for_answers(told)) return;
  const Nanoseconds late = Clock::now() - due;
  if (late > tolerance_) {
    schedule_.delay(late);
    if (phase_ == Phase::Run && schedule_.behind() > max_late_) {
      return stop("late rows have moved the run by " + short_time(schedule_.behind()) + ", more than the " +
                      to_text(max_late_) + " of --max-late",
                  false);
    }
  }
  crew_.send(instant, due, board_);
}

void Conductor::end_segment(const SegmentEnd& end) {
  next_ = end.then ? "wait for " + wait_text(*end.then) : "the end";
  next_due_ = schedule_.next(end.duration);
  if (!wait_until(next_due_) || !wait_for_all_answers()) return;
  played_ += end.duration;
  if (end.then && phase_ == Phase::Run) wait(*end.then);
}

void Conductor::wait(const TableWait& wait) {
  wait_.emplace(wait, plan_, Clock::now());
  next_ = "end of the wait for " + wait_text(wait);
  next_due_ = wait_->until();
  journal_.event("wait-begin " + wait_text(wait));
  crew_.watch_line(wait_->line());
  if (const OperatorWait* asked = wait_->asked()) {
    person_.ask("outputs that are on: " + board_.outputs_on() + "\n" + asked->prompt + "\nType yes when it is done: ");
  }
  press_readings();
  std::optional<WaitWatch::End> how;
  while (!stops() && !how) {
    how = wait_->look(Clock::now(), person_, recent_);
    if (!how) take_mail(std::min(wait_->until(), Clock::now() + kLook));
  }
  crew_.watch_line(std::nullopt);
  wait_.reset();
  press_readings();
  if (how) end_wait(*how, wait);
}

void Conductor::end_wait(WaitWatch::End how, const TableWait& wait) {
  switch (how) {
    case WaitWatch::End::Operator:
      return journal_.event("wait-end operator");
    case WaitWatch::End::Line:
      return journal_.event("wait-end line");
    case WaitWatch::End::Condition:
      return journal_.event("wait-end condition");
    case WaitWatch::End::NotYes:
      return stop("the operator did not say yes to: " + std::get<OperatorWait>(wait.what).prompt, false);
    case WaitWatch::End::Timeout:
      journal_.event("wait-end timeout");
      return stop("the wait for " + wait_text(wait) + " timed out", false);
  }
}

void Conductor::play_safe() {
  phase_ = Phase::Safe;
  if (!plan_.has_safe) return;
  journal_.enter_segment("safe");
  crew_.forget_rows();
  agenda_ = {};
  measuring_ = 0;
  press_readings();
  if (!wait_for_all_answers()) return;
  schedule_.begin(Clock::now());
  journal_.event("safe");
  for (const TableItem& item : plan_.safe) {
    if (stops()) return;
    if (const auto* instant = std::get_if<TableInstant>(&item)) play_instant(*instant);
    if (const auto* end = std::get_if<SegmentEnd>(&item)) end_segment(*end);
  }
}

void Conductor::collect_outputs() {
  const bool all_off = is_off_wanted_ || (stop_ && !plan_.has_safe);
  for (std::size_t i = 0; all_off && i < crew_.size(); ++i) crew_.give_up(i, board_);
  crew_.read_outputs();
  const Clock::time_point asked = Clock::now();
  bool is_said = false;
  while (true) {
    while (!crew_.knows_all_outputs()) {
      take_mail(Clock::now() + kLook);
      if (!is_said && Clock::now() - asked > kSilence) view_.note(crew_.silence_text());
      is_said = is_said || Clock::now() - asked > kSilence;
      for (std::size_t i = 0; is_off_wanted_ && i < crew_.size(); ++i) crew_.give_up(i, board_);
    }
    // An output that should be off and is not, or does not say so, is told again.
    const std::vector<std::size_t> disobedient = crew_.disobedient(board_);
    if (disobedient.empty()) break;
    for (const std::size_t channel : disobedient) {
      if (crew_.output(channel).known != Known::On) continue;
      has_failed_ = true;
      journal_.event("off again", plan_.channels[channel].name);
      remarks_.push_back(plan_.channels[channel].name +
                         " was still on when it should be off, and was switched off again");
    }
    for (const std::size_t channel : disobedient) crew_.give_up(plan_.channels[channel].supply, board_);
  }
}

bool Conductor::wait_until(Clock::time_point time) {
  while (!stops()) {
    Clock::time_point next = std::min(time, Clock::now() + kLook);
    if (const auto act = agenda_.next_time()) next = std::min(next, schedule_.origin() + *act);
    take_mail(next);
    if (stops()) return false;
    const Clock::time_point now = Clock::now();
    do_due(std::min(now, time));
    if (now >= time) return true;
  }
  return false;
}

bool Conductor::wait_for_answers(const std::vector<bool>& supplies) {
  while (!stops() && crew_.owes_answer(supplies)) take_mail(Clock::now() + kLook);
  return !stops();
}

bool Conductor::wait_for_all_answers() {
  return wait_for_answers(std::vector<bool>(crew_.size(), true));
}

// What has come up to this time.
void Conductor::do_due(Clock::time_point time) {
  while (const Due* due = agenda_.next_before(time - schedule_.origin())) act(*due);
}

void Conductor::act(const Due& due) {
  switch (due.act) {
    case Act::Mark:
      return journal_.event("mark " + due.name);
    case Act::BeginMeasurement:
      ++measuring_;
      journal_.event("measure-begin " + due.name);
      return press_readings();
    case Act::EndMeasurement:
      --measuring_;
      journal_.event("measure " + due.name);
      view_.note("measure " + due.name + ":" + recent_.means(schedule_.origin() + due.time - due.over));
      return press_readings();
  }
}

bool Conductor::is_read_without_pause() const {
  return measuring_ > 0 || (wait_ && wait_->needs_readings());
}

void Conductor::press_readings() {
  crew_.read_without_pause(is_read_without_pause());
  if (!is_read_without_pause()) recent_.clear();
}

void Conductor::take_mail(Clock::time_point until) {
  for (const Mail& mail : mailbox_.take(until)) {
    std::visit([&](const auto& what) { handle(mail, what); }, mail.what);
  }
  const std::string standstill = standstill_.look(Clock::now(), max_late_);
  if (!standstill.empty() && phase_ == Phase::Run) stop(standstill, true);
  if (Clock::now() - last_status_ >= kBetweenStatus) show_status();
}

void Conductor::handle(const Mail& mail, const Acked& acked) {
  crew_.note_answer(mail.supply);
  for (const TableRow& row : acked.rows) {
    LogRow line;
    line.kind = LogKind::Command;
    line.channel = row.name;
    line.set_V = row.voltage;
    line.set_A = row.current;
    line.output = row.output;
    line.planned = acked.planned;
    line.sent = journal_.since_start(acked.sent);
    line.acked = journal_.since_start(mail.at);
    journal_.add(std::move(line), mail.at);
    board_.take(row);
  }
  if (phase_ != Phase::Run || stop_) return;
  const Nanoseconds late = mail.at - acked.due;
  ++lateness_.groups;
  lateness_.worst = std::max(lateness_.worst, late);
  if (late > max_late_) {
    stop(plan_.supplies[mail.supply].link->name + ": a row was acknowledged " + short_time(late) +
             " after its time, more than the " + to_text(max_late_) + " of --max-late",
         false);
  }
}

void Conductor::handle(const Mail& mail, const Reading& reading) {
  board_.take(reading);
  if (is_read_without_pause()) recent_.take(reading);
  LogRow line;
  line.kind = LogKind::Reading;
  line.channel = plan_.channels[reading.channel].name;
  line.measured_V = reading.volts;
  line.measured_A = reading.amps;
  line.set_V = reading.set_V;
  line.set_A = reading.set_A;
  line.output = reading.output;
  line.mode = reading.mode;
  line.quality = reading.quality;
  journal_.add(std::move(line), mail.at);
}

void Conductor::handle(const Mail&, const Tripped& tripped) {
  const PlanChannel& channel = plan_.channels[tripped.channel];
  const bool is_unknown = tripped.cause == kUnknownCause;
  if (is_unknown && !board_.trip_cause(tripped.channel).empty()) return note_went_along(tripped.channel);
  board_.note_trip(tripped.channel, tripped.cause);
  journal_.event(is_unknown ? "off unexpected" : "trip " + tripped.cause, channel.name);
  if (is_unknown) ask_for_cause(tripped.channel);
  // Members of a combination go off whatever trips one of them.
  switch_off_others(tripped, channel.switched_off_by_trip, kJoinedCause);
  if (is_unknown || tripped.cause == "fuse") switch_off_others(tripped, channel.switched_off_by_fuse, kLinkedCause);
  if (!stop_ && phase_ == Phase::Run) tripped_ = tripped.channel;
  stop(trip_words(channel.name, tripped.cause), false);
}

// Another output may have taken this one along. It is asked at once: the safe sequence switches it off, and then nobody
// could tell.
void Conductor::ask_for_cause(std::size_t channel) {
  const auto has = [&](const std::vector<std::size_t>& others) {
    return std::find(others.begin(), others.end(), channel) != others.end();
  };
  for (std::size_t other = 0; other < plan_.channels.size(); ++other) {
    const PlanChannel& one = plan_.channels[other];
    const bool may_be_cause = has(one.switched_off_by_trip) || has(one.switched_off_by_fuse);
    if (may_be_cause && board_.is_on(other)) crew_.ask_trip(other);
  }
}

// Outputs that go off because another one has tripped. They are told so in any case.
void Conductor::switch_off_others(const Tripped& tripped, const std::vector<std::size_t>& others,
                                  std::string_view how) {
  for (const std::size_t other : others) {
    // The supply had switched this one off before the run asked why.
    const bool is_found_late = tripped.cause != kUnknownCause && board_.trip_cause(other) == kUnknownCause;
    if (is_found_late) {
      if (tripped_ == other) stop_ = trip_words(plan_.channels[tripped.channel].name, tripped.cause);
      board_.note_trip(other, std::string(how));
      note_went_along(other);
    } else if (board_.trip_cause(other).empty()) {
      // One that was on is asked before, so that it shows whether its link acts.
      const bool asks_first = how == kLinkedCause && board_.is_on(other);
      board_.note_trip(other, std::string(how));
      crew_.switch_off_channel(other, asks_first);
    }
  }
}

// An output that another one took along was found off.
void Conductor::note_went_along(std::size_t channel) {
  const std::string& cause = board_.trip_cause(channel);
  if (cause != kLinkedCause && cause != kJoinedCause) return;
  if (std::find(went_along_.begin(), went_along_.end(), channel) != went_along_.end()) return;
  went_along_.push_back(channel);
  journal_.event("trip " + cause, plan_.channels[channel].name);
  remarks_.push_back(plan_.channels[channel].name + " went off with it");
}

void Conductor::handle(const Mail&, const LinkSeen& seen) {
  if (seen.is_off) return note_went_along(seen.channel);
  const std::string& name = plan_.channels[seen.channel].name;
  journal_.event("link still on", name);
  remarks_.push_back("its link had not switched " + name + " off when the run asked, so the run did");
}

void Conductor::handle(const Mail&, const Changed& changed) {
  stop(changed.what, true);
}

void Conductor::handle(const Mail& mail, const Events& events) {
  const std::string& supply = plan_.supplies[mail.supply].link->name;
  journal_.event("status " + supply + " " + std::to_string(events.bits));
  if (is_reason_to_stop(events.bits)) stop(event_words(supply, events.bits), true);
}

void Conductor::handle(const Mail&, const LineLevel& level) {
  if (wait_) wait_->take(level);
}

void Conductor::handle(const Mail& mail, const Trouble& trouble) {
  crew_.note_answer(mail.supply);
  if (phase_ == Phase::Run) {
    stop(trouble.why, true);
  } else if (phase_ == Phase::Safe) {
    crew_.give_up(mail.supply, board_);
  }
}

void Conductor::handle(const Mail& mail, const Outputs& outputs) {
  for (const OutputState& state : outputs.states) {
    if (outputs.told_off) {
      LogRow command;
      command.kind = LogKind::Command;
      command.channel = state.channel;
      command.output = false;
      command.sent = journal_.since_start(*outputs.told_off);
      if (state.known != Known::Unknown) command.acked = journal_.since_start(mail.at);
      journal_.add(std::move(command), mail.at);
    }
    const bool is_known = state.known == Known::ConfirmedOff || state.known == Known::On;
    if (!is_known) continue;
    LogRow reading;
    reading.kind = LogKind::Reading;
    reading.channel = state.channel;
    reading.measured_V = state.volts;
    reading.output = state.known == Known::On;
    journal_.add(std::move(reading), mail.at);
  }
  crew_.note_outputs(mail.supply, outputs.states);
}

void Conductor::handle(const Mail&, const SignalCame& signal) {
  if (phase_ == Phase::Run && !stop_) {
    stop(signal_words(signal.number), false);
    return;
  }
  if (!is_off_wanted_) journal_.event("stop all outputs off at once: " + signal_words(signal.number));
  is_off_wanted_ = true;
}

void Conductor::handle(const Mail&, const LogFailed& failed) {
  stop("the log cannot be written: " + failed.why, true);
}

void Conductor::stop(const std::string& reason, bool is_failure) {
  has_failed_ = has_failed_ || is_failure;
  if (stop_ || phase_ != Phase::Run) return;
  stop_ = reason;
  journal_.event("stop " + reason);
}

void Conductor::show_status() {
  last_status_ = Clock::now();
  RunStatus status;
  status.segment = journal_.segment();
  status.time = journal_.since_start(last_status_);
  if (phase_ == Phase::Run) {
    const Nanoseconds now = std::min(last_status_, next_due_) - schedule_.origin();
    status.left = std::max(Nanoseconds::zero(), plan_.duration - played_ - std::max(Nanoseconds::zero(), now));
  }
  status.next = next_;
  if (next_due_ > last_status_) status.next += " in " + short_time(next_due_ - last_status_);
  status.rails = board_.rails();
  view_.status(status);
}

}  // namespace rampart::bench_run
