#include "runtime/bench_run/setup_steps.h"

#include <cmath>

#include "lang/values/short_text.h"

namespace rampart::bench_run {
namespace {

using link::ByHand;
using link::MessageKind;

// Thresholds and delays have no counts in the bench file: a supply may round them by so much.
Rational threshold_step(const Rational& value) {
  return value * Rational::fraction(1, 500);
}

class StepWriter {
 public:
  StepWriter(const PlanChannel& channel, const link::SupplyLink& link, std::string& mistake)
      : channel_(channel), link_(link), mistake_(mistake) {}

  void number(std::string_view what, MessageKind kind, MessageKind question, const Rational& value,
              const Rational& step, std::string_view unit) {
    add(what, kind, value, question, NumberWanted{value, step, unit}, true);
  }
  // As `number`, of what rows set again.
  void first_number(std::string_view what, MessageKind kind, MessageKind question, const Rational& value,
                    const Rational& step, std::string_view unit) {
    number(what, kind, question, value, step, unit);
    if (!steps_.empty()) steps_.back().is_fixed = false;
  }
  void truth(std::string_view what, MessageKind kind, MessageKind question, bool wanted) {
    add(what, kind, {}, question, std::nullopt, wanted);
  }
  void sense(MessageKind kind, bool is_remote) {
    truth("sense", kind, MessageKind::SenseIsRemote, is_remote);
    if (!steps_.empty()) steps_.back().truths = {"local", "remote"};
  }
  [[nodiscard]] bool has(MessageKind kind) const { return link_.messages.has(kind); }
  [[nodiscard]] std::vector<SetupStep> steps() && { return std::move(steps_); }

 private:
  void add(std::string_view what, MessageKind kind, const Rational& value, MessageKind question,
           std::optional<NumberWanted> wanted, bool truth) {
    const std::string full = std::string(what) + " of `" + channel_.name + "`";
    const std::optional<std::string> message = link_.messages.filled(kind, {channel_.subject, value});
    if (!message) {
      mistake_ = full + " cannot be written as `" + link_.messages.text(kind) + "`";
      return;
    }
    const auto asked = has(question) ? std::optional(question) : std::nullopt;
    SetupStep& step_made = steps_.emplace_back();
    step_made.what = full;
    step_made.message = *message;
    step_made.question = asked;
    step_made.number = std::move(wanted);
    step_made.truth = truth;
  }

  const PlanChannel& channel_;
  const link::SupplyLink& link_;
  std::string& mistake_;
  std::vector<SetupStep> steps_;
};

void add_fuse(StepWriter& writer, const TableFuse& fuse) {
  if (fuse.current && writer.has(MessageKind::FuseCurrent)) {
    writer.number("current of the fuse", MessageKind::FuseCurrent, MessageKind::FuseCurrentSet, *fuse.current,
                  threshold_step(*fuse.current), "A");
  }
  if (writer.has(MessageKind::FuseDelay)) {
    writer.number("delay of the fuse", MessageKind::FuseDelay, MessageKind::FuseDelaySet, fuse.delay,
                  threshold_step(fuse.delay), "s");
  }
  if (writer.has(MessageKind::FuseOn)) writer.truth("fuse", MessageKind::FuseOn, MessageKind::FuseIsOn, true);
}

void add_overpower(StepWriter& writer, const TableOverpower& overpower) {
  if (writer.has(MessageKind::Overpower)) {
    writer.number("overpower threshold", MessageKind::Overpower, MessageKind::OverpowerSet, overpower.power,
                  threshold_step(overpower.power), "W");
  }
  if (writer.has(MessageKind::OverpowerDelay)) {
    writer.number("overpower delay", MessageKind::OverpowerDelay, MessageKind::OverpowerDelaySet, overpower.delay,
                  threshold_step(overpower.delay), "s");
  }
  if (writer.has(MessageKind::OverpowerOn)) {
    writer.truth("overpower protection", MessageKind::OverpowerOn, MessageKind::OverpowerIsOn, true);
  }
}

std::string volts(const Rational& value) {
  return to_text(Volts{value});
}
std::string seconds(const Rational& value) {
  return to_text(Seconds{value});
}

}  // namespace

bool agrees(double answer, const NumberWanted& wanted) {
  constexpr double kRounding = 1e-9;
  const double goal = wanted.value.to_double();
  return std::abs(answer - goal) <= wanted.step.to_double() / 2 + kRounding * (1 + std::abs(goal));
}

std::optional<ReadBack> read_back(link::Instrument& instrument, const std::string& subject, const SetupStep& step) {
  if (!step.number) {
    const std::optional<bool> truth = instrument.ask_truth(*step.question, subject);
    if (!truth) return std::nullopt;
    return ReadBack{*truth == step.truth, std::string(step.truths[*truth ? 1 : 0]),
                    std::string(step.truths[step.truth ? 1 : 0])};
  }
  const std::optional<double> value = instrument.ask_number(*step.question, subject);
  if (!value) return std::nullopt;
  return ReadBack{agrees(*value, *step.number), short_text(*value, step.number->unit),
                  short_text(step.number->value.to_double(), step.number->unit)};
}

std::string words_of(const ReadBack& answer) {
  return "reads back as " + answer.got + ", not " + answer.wanted;
}

std::vector<SetupStep> setup_steps(const PlanChannel& channel, const link::SupplyLink& link, std::string& mistake) {
  StepWriter writer(channel, link, mistake);
  writer.first_number("setpoint", MessageKind::Voltage, MessageKind::VoltageSet, channel.least_voltage,
                      channel.voltage_step, "V");
  writer.first_number("current limit", MessageKind::Current, MessageKind::CurrentSet, channel.least_current,
                      channel.current_step, "A");
  if (channel.setup.overvoltage && writer.has(MessageKind::Overvoltage)) {
    writer.number("overvoltage threshold", MessageKind::Overvoltage, MessageKind::OvervoltageSet,
                  *channel.setup.overvoltage, threshold_step(*channel.setup.overvoltage), "V");
    if (writer.has(MessageKind::OvervoltageOn)) {
      writer.truth("overvoltage protection", MessageKind::OvervoltageOn, MessageKind::OvervoltageIsOn, true);
    }
  }
  if (channel.setup.fuse) add_fuse(writer, *channel.setup.fuse);
  if (channel.setup.overpower) add_overpower(writer, *channel.setup.overpower);
  const MessageKind sense = channel.setup.remote_sense ? MessageKind::SenseRemote : MessageKind::SenseLocal;
  if (writer.has(sense)) writer.sense(sense, channel.setup.remote_sense);
  return std::move(writer).steps();
}

std::vector<SettingByHand> settings_by_hand(const PlanChannel& channel, const link::SupplyLink& link) {
  std::vector<SettingByHand> settings;
  const auto has = [&](MessageKind kind) { return link.messages.has(kind); };
  const std::string of = "`" + channel.name + "`: ";
  if (channel.setup.remote_sense && !has(MessageKind::SenseRemote))
    settings.push_back({ByHand::Sense, of + "remote sense"});
  if (channel.setup.overvoltage && !has(MessageKind::Overvoltage)) {
    settings.push_back({ByHand::Overvoltage, of + "overvoltage protection at " + volts(*channel.setup.overvoltage)});
  }
  if (const auto& fuse = channel.setup.fuse) {
    const bool lacks_current = fuse->current && !has(MessageKind::FuseCurrent);
    if (lacks_current || !has(MessageKind::FuseDelay) || !has(MessageKind::FuseOn)) {
      const std::string at = fuse->current ? "fuse at " + to_text(Amps{*fuse->current}) : "fuse in constant current";
      settings.push_back({ByHand::Fuse, of + at + " after " + seconds(fuse->delay)});
    }
  }
  if (const auto& overpower = channel.setup.overpower) {
    const bool lacks_delay = overpower->delay.sign() > 0 && !has(MessageKind::OverpowerDelay);
    if (!has(MessageKind::Overpower) || !has(MessageKind::OverpowerOn) || lacks_delay) {
      settings.push_back({ByHand::Overpower, of + "overpower protection at " + to_text(Watts{overpower->power}) +
                                                 " after " + seconds(overpower->delay)});
    }
  }
  return settings;
}

}  // namespace rampart::bench_run
