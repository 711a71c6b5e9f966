#include "runtime/bench_run/supply_worker.h"

#include <algorithm>
#include <cmath>
#include <exception>

#include "lang/values/short_text.h"
#include "runtime/bench_run/trip_signs.h"
#include "runtime/bench_run/words.h"

namespace rampart::bench_run {
namespace {

using link::MessageKind;

// While a line is waited for, it is asked this often, or as fast as the supply answers.
constexpr auto kBetweenLines = std::chrono::milliseconds(10);
// Nothing waits longer than this without looking again.
constexpr auto kLongestPause = std::chrono::milliseconds(50);

constexpr const char* kChanged = ": it was changed during the run";

}  // namespace

SupplyWorker::SupplyWorker(const Plan& plan, std::size_t supply, link::Instrument& instrument, Nanoseconds round_trip,
                           Mailbox& mailbox)
    : plan_(plan),
      supply_(supply),
      instrument_(instrument),
      round_trip_(round_trip),
      mailbox_(mailbox),
      commanded_(plan.channels.size()),
      readings_(plan.channels.size()) {
  const link::Messages& messages = plan.supplies[supply].link->messages;
  for (const std::size_t channel : plan.supplies[supply].channels) {
    commanded_[channel].output = false;
    steps_.push_back({Ask::Output, channel});
    steps_.push_back({Ask::Voltage, channel});
    steps_.push_back({Ask::Current, channel});
    if (messages.has(MessageKind::Condition)) steps_.push_back({Ask::Condition, channel});
    steps_.push_back({Ask::MeasuredVoltage, channel});
    if (messages.has(MessageKind::MeasuredCurrent)) steps_.push_back({Ask::MeasuredCurrent, channel});
  }
  if (messages.has(MessageKind::EventStatus)) steps_.push_back({Ask::Events, 0});
  for (const std::size_t channel : plan.supplies[supply].channels) {
    std::string mistake;
    for (SetupStep& step : setup_steps(plan.channels[channel], *plan.supplies[supply].link, mistake)) {
      if (step.is_fixed && step.question) fixed_.push_back({channel, std::move(step)});
    }
  }
  if (!fixed_.empty()) steps_.push_back({Ask::Fixed, fixed_.front().channel});
  round_begin_ = next_line_ = next_feed_ = Clock::now();
  thread_ = std::thread([this] { work(); });
}

SupplyWorker::~SupplyWorker() {
  {
    const std::lock_guard lock(mutex_);
    is_stopped_ = true;
  }
  changed_.notify_one();
  thread_.join();
}

void SupplyWorker::send(Rows rows) {
  {
    const std::lock_guard lock(mutex_);
    waiting_.push_back(std::move(rows));
  }
  changed_.notify_one();
}

void SupplyWorker::keep_free_from(Clock::time_point time) {
  const std::lock_guard lock(mutex_);
  free_from_ = time;
  changed_.notify_one();
}

void SupplyWorker::watch_line(std::optional<std::size_t> line) {
  const std::lock_guard lock(mutex_);
  line_ = line;
  changed_.notify_one();
}

void SupplyWorker::read_without_pause(bool is_wanted) {
  const std::lock_guard lock(mutex_);
  is_new_round_ = is_wanted && !is_pressed_;
  is_pressed_ = is_wanted;
  changed_.notify_one();
}

void SupplyWorker::switch_off_now() {
  instrument_.interrupt();
  {
    const std::lock_guard lock(mutex_);
    is_off_wanted_ = true;
    is_report_wanted_ = false;
    waiting_.clear();
  }
  changed_.notify_one();
}

void SupplyWorker::read_outputs() {
  {
    const std::lock_guard lock(mutex_);
    is_report_wanted_ = true;
  }
  changed_.notify_one();
}

// An exception must not leave this thread: the program would end with outputs on. A failure, such as no memory, ends
// the run as a lost connection does.
void SupplyWorker::guarded(const std::function<void()>& act) {
  try {
    act();
  } catch (const std::exception& failure) {
    mailbox_.post(supply_, Trouble{supply().link->name + ": " + failure.what()});
  }
}

void SupplyWorker::work() {
  std::unique_lock lock(mutex_);
  while (!is_stopped_) {
    if (is_off_wanted_) {
      is_off_wanted_ = false;
      lock.unlock();
      guarded([this] { switch_off(); });
    } else if (!waiting_.empty()) {
      const Rows rows = std::move(waiting_.front());
      waiting_.pop_front();
      lock.unlock();
      guarded([&] { play(rows); });
    } else if (is_report_wanted_) {
      is_report_wanted_ = false;
      lock.unlock();
      guarded([this] { report_outputs(); });
    } else {
      const Clock::time_point now = Clock::now();
      if (is_new_round_) next_step_ = 0;
      if (is_pressed_) round_begin_ = std::min(round_begin_, now);
      is_new_round_ = false;
      const bool asks_line = line_.has_value() && now >= next_line_;
      const std::size_t line = line_.value_or(0);
      const bool has_time = free_from_ - now > round_trip_;
      const bool is_hungry = supply().link->watchdog && now >= next_feed_;
      if (!is_hungry && !(has_time && (asks_line || now >= round_begin_))) {
        Clock::time_point next = now + kLongestPause;
        if (line_) next = std::min(next, next_line_);
        if (has_time) next = std::min(next, round_begin_);
        changed_.wait_until(lock, next);
        continue;
      }
      lock.unlock();
      guarded([&] {
        if (is_hungry) {
          feed();
        } else if (asks_line) {
          ask_line(line);
        } else if (!take_step()) {
          // A pause, so that a supply that is gone is not asked without end.
          round_begin_ = Clock::now() + supply().link->monitor;
        }
      });
    }
    lock.lock();
  }
}

void SupplyWorker::trouble() {
  is_sound_ = false;
  mailbox_.post(supply_, Trouble{supply().link->name + ": " + instrument_.why()});
}

bool SupplyWorker::recover() {
  if (!is_sound_) is_sound_ = instrument_.resynchronize() || (instrument_.connect() && instrument_.resynchronize());
  return is_sound_;
}

void SupplyWorker::play(const Rows& rows) {
  if (rows.linked) ask_link(*rows.linked);
  if (rows.suspect) {
    next_step_ = 0;  // a round of readings has to begin again, because the output was asked
    if (recover()) ask_output(*rows.suspect);
    return;
  }
  const Clock::time_point sent = Clock::now();
  ++told_;
  if (!recover() || !instrument_.command(rows.messages)) {
    // Whether the supply took them is not known.
    for (const TableRow& row : rows.rows) {
      if (const auto channel = plan_.find_channel(row.name)) commanded_[*channel] = {};
    }
    trouble();
    return;
  }
  note(rows);
  mailbox_.post(supply_, Acked{rows.rows, rows.due, rows.planned, sent});
}

void SupplyWorker::ask_link(std::size_t channel) {
  if (!recover()) return;
  const std::optional<bool> output = instrument_.ask_truth(MessageKind::OutputState, subject(channel));
  if (!output) return trouble();
  mailbox_.post(supply_, LinkSeen{channel, !*output});
}

void SupplyWorker::note(const Rows& rows) {
  for (const TableRow& row : rows.rows) {
    const std::optional<std::size_t> channel = plan_.find_channel(row.name);
    if (!channel) continue;
    Commanded& commanded = commanded_[*channel];
    if (row.output) commanded.output = row.output;
    if (row.voltage) commanded.voltage = row.voltage;
    if (row.current) commanded.current = row.current;
  }
}

void SupplyWorker::switch_off() {
  instrument_.resume();
  is_monitored_ = false;
  const Clock::time_point sent = Clock::now();
  mailbox_.post(supply_, Outputs{bench_run::switch_off(instrument_, plan_.link_names(supply_)), sent});
}

void SupplyWorker::report_outputs() {
  is_monitored_ = false;
  static_cast<void>(recover());
  mailbox_.post(supply_, Outputs{ask_outputs(instrument_, plan_.link_names(supply_)), std::nullopt});
}

// One question, so that no row waits for more. False where it failed.
bool SupplyWorker::take_step() {
  if (!is_monitored_) return false;
  if (!is_sound_ && !recover()) return false;
  const Step step = steps_[next_step_];
  const PlanChannel& channel = plan_.channels[step.channel];
  const Commanded& commanded = commanded_[step.channel];
  switch (step.what) {
    case Ask::Output:
      ask_output(step.channel);
      break;
    case Ask::Voltage:
      ask_setting(step.channel, MessageKind::VoltageSet, commanded.voltage, channel.voltage_step, "V");
      break;
    case Ask::Current:
      ask_setting(step.channel, MessageKind::CurrentSet, commanded.current, channel.current_step, "A");
      break;
    case Ask::Condition:
      ask_condition(step.channel);
      break;
    case Ask::MeasuredVoltage:
    case Ask::MeasuredCurrent:
      ask_measured(step.channel, step.what == Ask::MeasuredCurrent);
      break;
    case Ask::Events:
      ask_events();
      break;
    case Ask::Fixed:
      ask_fixed();
      break;
  }
  if (++next_step_ == steps_.size()) {
    next_step_ = 0;
    round_begin_ = std::max(round_begin_ + supply().link->monitor, Clock::now());
  }
  return is_sound_;
}

void SupplyWorker::ask_output(std::size_t channel) {
  const std::optional<bool> output = instrument_.ask_truth(MessageKind::OutputState, subject(channel));
  if (!output) return trouble();
  readings_[channel] = {};
  readings_[channel].channel = channel;
  readings_[channel].output = output;
  told_at_output_ = told_;
  std::optional<bool>& commanded = commanded_[channel].output;
  if (!commanded || *commanded == *output) return;
  commanded = output;
  const std::string& name = plan_.channels[channel].name;
  if (*output) {
    mailbox_.post(supply_, Changed{name + " is on, although it was switched off"});
    return;
  }
  std::string cause(kUnknownCause);
  for (const MessageKind kind : trip_questions(*supply().link)) {
    const std::optional<bool> tripped = instrument_.ask_truth(kind, subject(channel));
    if (!tripped) trouble();
    if (tripped == true) cause = cause_of(kind);
    if (tripped != false) break;
  }
  if (cause == kUnknownCause && supply().link->messages.has(MessageKind::Condition)) {
    const std::optional<double> bits = instrument_.ask_number(MessageKind::Condition, subject(channel));
    if (!bits) trouble();
    if (bits && !read_condition(*supply().link, *bits).cause.empty())
      cause = read_condition(*supply().link, *bits).cause;
  }
  // A supply that lost its mains has its outputs off too, and says so there.
  if (cause == kUnknownCause && supply().link->messages.has(MessageKind::EventStatus)) ask_events();
  mailbox_.post(supply_, Tripped{channel, cause});
}

void SupplyWorker::ask_setting(std::size_t channel, MessageKind kind, const std::optional<Rational>& wanted,
                               const Rational& step, std::string_view unit) {
  if (!wanted) return;
  const std::optional<double> value = instrument_.ask_number(kind, subject(channel));
  if (!value) return trouble();
  if (agrees(*value, {*wanted, step, unit})) return;
  const std::string_view what = kind == MessageKind::VoltageSet ? "setpoint" : "current limit";
  const ReadBack answer{false, short_text(*value, unit), short_text(wanted->to_double(), unit)};
  mailbox_.post(supply_, Changed{std::string(what) + " of `" + plan_.channels[channel].name + "` " + words_of(answer) +
                                 kChanged});
}

void SupplyWorker::ask_fixed() {
  const Fixed& fixed = fixed_[next_fixed_];
  next_fixed_ = (next_fixed_ + 1) % fixed_.size();
  const std::optional<ReadBack> answer = read_back(instrument_, subject(fixed.channel), fixed.step);
  if (!answer) return trouble();
  if (answer->agrees) return;
  mailbox_.post(supply_, Changed{fixed.step.what + " " + words_of(*answer) + kChanged});
}

void SupplyWorker::ask_condition(std::size_t channel) {
  const std::optional<double> bits = instrument_.ask_number(MessageKind::Condition, subject(channel));
  if (!bits) return trouble();
  const ConditionState state = read_condition(*supply().link, *bits);
  readings_[channel].mode = state.mode;
  told_at_mode_ = told_;
  std::optional<bool>& commanded = commanded_[channel].output;
  if (state.cause.empty() || commanded != true) return;
  // A trip that shows here before the output says that it is off.
  commanded = false;
  mailbox_.post(supply_, Tripped{channel, state.cause});
}

void SupplyWorker::ask_measured(std::size_t channel, bool is_current) {
  // Voltage and current belong together: if a row came between them, the voltage is measured again.
  if (is_current && told_at_volts_ != told_) {
    readings_[channel].volts.reset();
    readings_[channel].quality.clear();
    --next_step_;
    is_current = false;
  }
  if (!is_current) {
    told_at_volts_ = told_;
    readings_[channel].begun = Clock::now();
  }
  const std::optional<double> value = instrument_.ask_number(
      is_current ? MessageKind::MeasuredCurrent : MessageKind::MeasuredVoltage, subject(channel));
  if (!value) return trouble();
  Reading& reading = readings_[channel];
  if (std::abs(*value) >= link::kNotANumber) {
    reading.quality = "missing";
  } else if (std::abs(*value) >= link::kInfinity) {
    reading.quality = "overflow";
  } else {
    (is_current ? reading.amps : reading.volts) = value;
  }
  const bool has_current = supply().link->messages.has(MessageKind::MeasuredCurrent);
  if (!is_current && has_current) return;
  if (told_at_output_ != told_) reading.output.reset();
  // An output that is off holds neither voltage nor current.
  if (told_at_mode_ != told_ || reading.output != true) reading.mode.clear();
  reading.set_V = commanded_[channel].voltage;
  reading.set_A = commanded_[channel].current;
  mailbox_.post(supply_, reading);
}

void SupplyWorker::ask_events() {
  const std::optional<double> bits = instrument_.ask_number(MessageKind::EventStatus, "");
  if (!bits) return trouble();
  if (*bits != 0) mailbox_.post(supply_, Events{static_cast<int>(std::clamp(*bits, 0.0, 255.0))});
}

void SupplyWorker::ask_line(std::size_t line) {
  const Clock::time_point asked = Clock::now();
  next_line_ = asked + kBetweenLines;
  if (!recover()) return;
  const std::optional<bool> level = instrument_.ask_truth(MessageKind::LineState, plan_.lines[line].subject);
  if (!level) return trouble();
  mailbox_.post(supply_, LineLevel{line, *level, asked});
}

void SupplyWorker::feed() {
  next_feed_ = Clock::now() + *supply().link->watchdog;
  if (!is_monitored_ || !recover()) return;
  if (!instrument_.command(MessageKind::WatchdogFeed, {})) trouble();
}

}  // namespace rampart::bench_run
