#include "runtime/bench_run/start_checks.h"

#include <algorithm>
#include <cmath>

#include "lang/findings/runs.h"
#include "lang/values/short_text.h"
#include "runtime/bench_run/setup_steps.h"
#include "runtime/bench_run/trip_signs.h"
#include "runtime/bench_run/words.h"

namespace rampart::bench_run {
namespace {

using link::Instrument;
using link::MessageKind;

constexpr int kRoundTrips = 10;
// More errors than this in the queue of a supply are its mistake.
constexpr int kMostErrors = 100;
constexpr auto kAnswerPause = std::chrono::milliseconds(50);

class Starter {
 public:
  Starter(const Plan& plan, const StartOptions& options, RunView& view, Person& person, Mailbox& mailbox)
      : plan_(plan), options_(options), view_(view), person_(person), mailbox_(mailbox) {}

  Start run() {
    if (connect_all() && identify_all() && each(&Starter::take_remote_lock) && each(&Starter::measure_round_trip) &&
        find_outputs() && ask_by_hand() && switch_all_off() && each(&Starter::set_up) && check_residuals()) {
      say_time_to_off();
      static_cast<void>(each(&Starter::arm_watchdog));
    }
    return std::move(start_);
  }

 private:
  [[nodiscard]] bool refuse(const Wording& why, std::string what, std::string hint) {
    start_.refusals.push_back({why.name, std::move(what), std::move(hint)});
    return false;
  }
  [[nodiscard]] bool fail(std::size_t supply) {
    start_.has_failed = true;
    return refuse(finding::NoConnection.wording, link(supply).name + ": " + start_.supplies[supply].instrument->why(),
                  "check the connection and the link file");
  }
  [[nodiscard]] const link::SupplyLink& link(std::size_t supply) const { return *plan_.supplies[supply].link; }
  [[nodiscard]] Instrument& instrument(std::size_t supply) { return *start_.supplies[supply].instrument; }

  // A signal ends the start before the next thing is done.
  [[nodiscard]] bool goes_on() {
    for (const Mail& mail : mailbox_.take(Clock::now())) {
      if (std::holds_alternative<SignalCame>(mail.what)) is_ended_ = true;
    }
    if (is_ended_) start_.refusals.push_back({{}, "stopped before the run began", {}});
    return !is_ended_;
  }

  template <class Work>
  [[nodiscard]] bool each(Work work) {
    for (std::size_t i = 0; i < plan_.supplies.size(); ++i) {
      if (!goes_on() || !(this->*work)(i)) return false;
    }
    return true;
  }

  // True for a yes. `refused`: what stands against going on otherwise, which nobody there to ask is too.
  [[nodiscard]] bool asks(const Wording& why, const std::string& question, const std::string& refused,
                          const std::string& hint) {
    if (!person_.is_there()) return refuse(why, refused + ", and nobody can be asked without a terminal", hint);
    person_.ask(question + "\nType yes to go on: ");
    while (goes_on()) {
      const std::optional<bool> answer = person_.answer();
      if (answer) return *answer || refuse(why, refused, hint);
      for (const Mail& mail : mailbox_.take(Clock::now() + kAnswerPause)) {
        if (std::holds_alternative<SignalCame>(mail.what)) is_ended_ = true;
      }
    }
    return false;
  }

  bool connect_all() {
    for (const PlanSupply& supply : plan_.supplies) {
      ReadySupply& ready = start_.supplies.emplace_back();
      ready.lock = std::make_unique<link::LinkLock>(supply.link->place);
      ready.instrument = std::make_unique<Instrument>(*supply.link);
      if (!ready.lock->is_held()) {
        return refuse(finding::HeldElsewhere.wording,
                      supply.link->name + " (" + place_text(supply.link->place) + "): " + ready.lock->why(),
                      "wait for its end, or stop it with Ctrl-C");
      }
      if (!ready.instrument->connect()) return fail(start_.supplies.size() - 1);
    }
    return true;
  }

  bool identify_all() {
    for (std::size_t i = 0; i < plan_.supplies.size(); ++i) {
      const std::optional<link::Identity> identity = instrument(i).identify();
      if (!identity) return fail(i);
      start_.supplies[i].identity = *identity;
      view_.note(link(i).name + " (" + place_text(link(i).place) + "): " + identity->text);
      if (identity->serial_number != link(i).serial_number) {
        return refuse(finding::OtherInstrument.wording,
                      "the instrument at " + place_text(link(i).place) + " has serial number " +
                          identity->serial_number + ", but `" + link(i).name + "` is " + link(i).serial_number,
                      "correct the address or the serial number in the link file");
      }
      for (std::size_t other = 0; other < i; ++other) {
        const link::Identity& known = start_.supplies[other].identity;
        if (known.maker != identity->maker || known.model != identity->model ||
            known.serial_number != identity->serial_number)
          continue;
        return refuse(finding::OtherInstrument.wording,
                      "`" + link(other).name + "` and `" + link(i).name + "` are one instrument",
                      "give each supply an address of its own");
      }
    }
    return true;
  }

  bool take_remote_lock(std::size_t supply) {
    if (!link(supply).messages.has(MessageKind::Lock)) {
      view_.note(link(supply).name +
                 ": no message `lock` is given, so only other players on this computer are locked out");
      return true;
    }
    const std::optional<bool> is_taken = instrument(supply).ask_truth(MessageKind::Lock, "");
    if (!is_taken) return fail(supply);
    start_.supplies[supply].is_locked = *is_taken;
    return *is_taken || refuse(finding::HeldElsewhere.wording, link(supply).name + " is locked by another controller",
                               "release it there");
  }

  // What is on, and what has tripped. Asking changes nothing, except that event bits are cleared, so these are shown.
  bool find_outputs() {
    std::string on;
    std::string tripped;
    for (std::size_t i = 0; i < plan_.supplies.size(); ++i) {
      if (!goes_on() || !show_events(i)) return false;
      for (const std::size_t channel : plan_.supplies[i].channels) {
        const PlanChannel& planned = plan_.channels[channel];
        const std::optional<bool> output = instrument(i).ask_truth(MessageKind::OutputState, planned.subject);
        if (!output) return fail(i);
        if (*output) on += (on.empty() ? "" : ", ") + planned.name;
        if (!ask_condition(i, planned, tripped)) return false;
        for (const MessageKind kind : trip_questions(link(i))) {
          const std::optional<bool> latched = instrument(i).ask_truth(kind, planned.subject);
          if (!latched) return fail(i);
          if (*latched) add_once(tripped, planned.name, cause_of(kind));
        }
      }
    }
    if (!tripped.empty()) {
      return refuse(finding::AlreadyTripped.wording, "a protection has tripped: " + tripped,
                    "find out why, and clear it at the supply: a run never clears a trip");
    }
    if (on.empty()) return true;
    return asks(finding::OutputOn.wording, "these outputs are on and will be switched off: " + on,
                "outputs are on, and were left on: " + on, "switch them off with `rampart off`");
  }

  static void add_once(std::string& trips, const std::string& channel, const std::string& cause) {
    const std::string trip = channel + " (" + cause + ")";
    if (!trips.ends_with(trip)) trips += (trips.empty() ? "" : ", ") + trip;
  }

  bool ask_condition(std::size_t supply, const PlanChannel& channel, std::string& tripped) {
    if (!link(supply).messages.has(MessageKind::Condition)) return true;
    const std::optional<double> bits = instrument(supply).ask_number(MessageKind::Condition, channel.subject);
    if (!bits) return fail(supply);
    const std::string cause = read_condition(link(supply), *bits).cause;
    if (!cause.empty()) add_once(tripped, channel.name, cause);
    return true;
  }

  bool show_events(std::size_t supply) {
    if (!link(supply).messages.has(MessageKind::EventStatus)) return true;
    const std::optional<double> bits = instrument(supply).ask_number(MessageKind::EventStatus, "");
    if (!bits) return fail(supply);
    if (*bits != 0) {
      view_.note(link(supply).name + ": event status register was " + short_text(*bits, "") +
                 "; reading has cleared it");
    }
    return true;
  }

  bool ask_by_hand() {
    if (plan_.by_hand.empty()) return true;
    std::string question = "set by hand at the supplies:";
    std::string refused;
    for (const HandSetting& setting : plan_.by_hand) {
      question += "\n  " + setting.text;
      refused += (refused.empty() ? "" : "; ") + setting.text;
    }
    return asks(
        finding::NobodyToAsk.wording, question,
        counted(plan_.by_hand.size(), "setting") + " to be made by hand, not confirmed: " + refused,
        "start the run in a terminal and type yes; thresholds and delays can be messages of the link file instead");
  }

  bool measure_round_trip(std::size_t supply) {
    Nanoseconds longest{0};
    for (int i = 0; i < kRoundTrips; ++i) {
      const Clock::time_point begin = Clock::now();
      if (!instrument(supply).command(std::span<const std::string>())) return fail(supply);
      longest = std::max(longest, std::chrono::duration_cast<Nanoseconds>(Clock::now() - begin));
    }
    start_.supplies[supply].round_trip = longest;
    const std::optional<Nanoseconds>& gap = plan_.supplies[supply].shortest_gap;
    view_.note(link(supply).name + ": answers within " + short_time(longest) +
               (gap ? ", rows at least " + to_text(*gap) + " apart" : ""));
    // A row, and a reading of voltage and current, have to fit between two rows.
    if (gap && 3 * longest > *gap) {
      return refuse(finding::SlowConnection.wording,
                    "three answers have to fit between two rows: `" + link(supply).name + "` takes up to " +
                        short_time(3 * longest) + " for them, and the table has rows " + to_text(*gap) + " apart",
                    "use a faster connection, or a larger `minimum_step` in the bench file");
    }
    if (longest > options_.max_late) {
      return refuse(finding::SlowConnection.wording,
                    "`" + link(supply).name + "` takes up to " + short_time(longest) +
                        " for an answer, longer than the " + to_text(options_.max_late) + " that a row may be late",
                    "use a faster connection, or allow more with --max-late");
    }
    return true;
  }

  bool switch_all_off() {
    start_.is_touched = true;
    for (std::size_t i = 0; i < plan_.supplies.size(); ++i) {
      if (!goes_on()) return false;
      for (const OutputState& output : switch_off(instrument(i), plan_.link_names(i))) {
        if (output.is_off()) continue;
        start_.has_failed = true;
        return refuse(finding::ReadsBackOtherwise.wording,
                      output.channel + " is not confirmed off: " + state_text(output), "switch it off at the supply");
      }
    }
    return each(&Starter::drain_errors);
  }

  bool drain_errors(std::size_t supply) {
    if (!link(supply).messages.has(MessageKind::NextError)) return true;
    for (int i = 0; i < kMostErrors; ++i) {
      const std::optional<std::string> answer = instrument(supply).ask_text(MessageKind::NextError, "");
      if (!answer) return fail(supply);
      const std::string number = answer->substr(0, answer->find(','));
      if (link::parse_answer_number(number) == 0.0) return true;
      if (!link::parse_answer_number(number)) {
        start_.has_failed = true;
        return refuse(finding::NoConnection.wording,
                      link(supply).name + ": `" + *answer + "` is not an entry of an error queue",
                      "give the message `next_error` in the link file, or `none`");
      }
      view_.note(link(supply).name + ": error found in its queue: " + *answer);
    }
    return refuse(finding::NoConnection.wording, link(supply).name + ": its error queue does not end",
                  "check the supply");
  }

  bool set_up(std::size_t supply) {
    if (link(supply).messages.has(MessageKind::PowerOnOff)) {
      if (!instrument(supply).command(MessageKind::PowerOnOff, {})) return fail(supply);
    } else {
      view_.note(
          link(supply).name +
          ": no message `power_on_off` is given, so the state of its outputs after a mains failure is not known");
    }
    for (const std::size_t channel : plan_.supplies[supply].channels) {
      std::string mistake;
      for (const SetupStep& step : setup_steps(plan_.channels[channel], link(supply), mistake)) {
        if (!set(supply, plan_.channels[channel], step)) return false;
      }
    }
    return check_errors(supply);
  }

  bool set(std::size_t supply, const PlanChannel& channel, const SetupStep& step) {
    if (!goes_on()) return false;
    if (!instrument(supply).command({&step.message, 1})) return fail(supply);
    if (!step.question) {
      view_.note(step.what + ": set, but not read back: the link file has no query for it");
      return true;
    }
    const std::optional<ReadBack> answer = read_back(instrument(supply), channel.subject, step);
    if (!answer) return fail(supply);
    return answer->agrees || refuse(finding::ReadsBackOtherwise.wording, step.what + " " + words_of(*answer),
                                    "compare the message in the link file with the manual of the supply");
  }

  // A supply that did not understand something has said so.
  bool check_errors(std::size_t supply) {
    if (!link(supply).messages.has(MessageKind::NextError)) return true;
    const std::optional<std::string> answer = instrument(supply).ask_text(MessageKind::NextError, "");
    if (!answer) return fail(supply);
    if (link::parse_answer_number(answer->substr(0, answer->find(','))) == 0.0)
      return !link(supply).messages.has(MessageKind::EventStatus) || show_events(supply);
    return refuse(finding::ReadsBackOtherwise.wording, link(supply).name + " refused part of the set-up: " + *answer,
                  "compare the messages in the link file with the manual of the supply");
  }

  bool check_residuals() {
    std::string remains;
    for (std::size_t i = 0; i < plan_.supplies.size(); ++i) {
      for (const std::size_t channel : plan_.supplies[i].channels) {
        const PlanChannel& planned = plan_.channels[channel];
        const std::optional<double> volts = instrument(i).ask_number(MessageKind::MeasuredVoltage, planned.subject);
        if (!volts) return fail(i);
        if (std::abs(*volts) <= kResidualVolts) continue;
        remains += (remains.empty() ? "" : ", ") + planned.name + " " + short_text(*volts, "V");
      }
    }
    if (remains.empty()) return true;
    if (!options_.accepts_residual) {
      return refuse(finding::VoltageRemains.wording, "voltage remains at outputs that are off: " + remains,
                    "discharge the load, or use --accept-residual if it is meant to be charged");
    }
    view_.note("accepted: voltage remains at outputs that are off: " + remains);
    return true;
  }

  bool arm_watchdog(std::size_t supply) {
    if (!link(supply).watchdog) return true;
    start_.supplies[supply].is_watched = true;
    return instrument(supply).command(MessageKind::WatchdogArm, {}) || fail(supply);
  }

  // Supplies are told at the same time, the channels of one together.
  void say_time_to_off() {
    Nanoseconds longest{0};
    Nanoseconds silent{0};
    for (std::size_t i = 0; i < plan_.supplies.size(); ++i) {
      longest = std::max(longest, start_.supplies[i].round_trip);
      silent = std::max(silent, link(i).timeout);
    }
    view_.note("switching all outputs off takes up to " + short_time(2 * longest) +
               " if every supply answers, and up to " + short_time(longest + silent) + " if one does not answer");
  }

  const Plan& plan_;
  const StartOptions& options_;
  RunView& view_;
  Person& person_;
  Mailbox& mailbox_;
  Start start_;
  bool is_ended_ = false;
};

}  // namespace

std::vector<SupplyState> leave_off(const Plan& plan, std::vector<ReadySupply>& supplies) {
  std::vector<SupplyState> states;
  for (std::size_t i = 0; i < supplies.size(); ++i) {
    const link::SupplyLink& link = *plan.supplies[i].link;
    states.push_back({link.name, place_text(link.place), supplies[i].identity.text,
                      switch_off(*supplies[i].instrument, plan.link_names(i))});
  }
  return states;
}

void take_leave(std::vector<ReadySupply>& supplies) {
  for (ReadySupply& supply : supplies) {
    if (supply.instrument->is_other()) continue;
    if (supply.is_watched) static_cast<void>(supply.instrument->command(MessageKind::WatchdogDisarm, {}));
    if (supply.is_locked && supply.instrument->link().messages.has(MessageKind::Unlock)) {
      static_cast<void>(supply.instrument->command(MessageKind::Unlock, {}));
    }
  }
}

Start start_up(const Plan& plan, const StartOptions& options, RunView& view, Person& person, Mailbox& mailbox) {
  return Starter(plan, options, view, person, mailbox).run();
}

}  // namespace rampart::bench_run
