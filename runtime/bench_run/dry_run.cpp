#include "runtime/bench_run/dry_run.h"

#include "lang/text/overloaded.h"
#include "runtime/bench_run/agenda.h"
#include "runtime/bench_run/row_messages.h"
#include "runtime/bench_run/setup_steps.h"
#include "runtime/bench_run/trip_signs.h"

namespace rampart::bench_run {
namespace {

using link::MessageKind;

class DryRun {
 public:
  DryRun(const Plan& plan, DryRunView& view) : plan_(plan), view_(view) {}

  void start() {
    view_.phase("start");
    for (const PlanSupply& supply : plan_.supplies) ask(supply, MessageKind::Identify, "");
    for (const PlanSupply& supply : plan_.supplies) {
      ask(supply, MessageKind::Lock, "");
      ask(supply, MessageKind::EventStatus, "");
      for (const std::size_t channel : supply.channels) {
        ask(supply, MessageKind::OutputState, plan_.channels[channel].subject);
        ask(supply, MessageKind::Condition, plan_.channels[channel].subject);
        for (const MessageKind kind : trip_questions(*supply.link)) ask(supply, kind, plan_.channels[channel].subject);
      }
      ask(supply, MessageKind::Complete, "");
    }
  }

  void set_up() {
    view_.phase("set-up");
    for (const PlanSupply& supply : plan_.supplies) {
      for (const std::size_t channel : supply.channels)
        tell(supply, MessageKind::OutputOff, plan_.channels[channel].subject);
      ask(supply, MessageKind::Complete, "");
      for (const std::size_t channel : supply.channels)
        ask(supply, MessageKind::OutputState, plan_.channels[channel].subject);
      ask(supply, MessageKind::NextError, "");
      tell(supply, MessageKind::PowerOnOff, "");
      for (const std::size_t channel : supply.channels) set_up_channel(supply, plan_.channels[channel]);
      for (const std::size_t channel : supply.channels)
        ask(supply, MessageKind::MeasuredVoltage, plan_.channels[channel].subject);
      tell(supply, MessageKind::WatchdogArm, "");
    }
  }

  void take(const TableItem& item) {
    std::visit(Overloaded{[this](const SegmentBegin& begin) {
                            writer_.forget();
                            view_.phase(begin.name == "safe" ? "safe" : "segment " + begin.name);
                            agenda_ = Agenda(begin);
                          },
                          [this](const TableInstant& instant) {
                            show_instants(instant.time);
                            send(instant);
                          },
                          [this](const SegmentEnd& end) {
                            show_instants(end.duration);
                            if (end.then) view_.wait(*end.then);
                          }},
               item);
  }

  void end() {
    view_.phase("end");
    for (const PlanSupply& supply : plan_.supplies) {
      for (const std::size_t channel : supply.channels) {
        ask(supply, MessageKind::OutputState, plan_.channels[channel].subject);
        ask(supply, MessageKind::MeasuredVoltage, plan_.channels[channel].subject);
      }
      tell(supply, MessageKind::WatchdogDisarm, "");
      tell(supply, MessageKind::Unlock, "");
    }
  }

 private:
  void show_instants(Nanoseconds until) {
    while (const Due* due = agenda_.next_before(until)) {
      if (due->act == Act::Mark) view_.instant(due->time, "mark " + due->name);
      if (due->act != Act::EndMeasurement) continue;
      view_.instant(due->time, "measure " + due->name + " over " + to_text(due->over));
    }
  }

  void say(const PlanSupply& supply, const std::string& text, std::optional<Nanoseconds> time = std::nullopt) {
    view_.message(time, supply.link->name, text);
  }
  void tell(const PlanSupply& supply, MessageKind kind, const std::string& subject) {
    if (!supply.link->messages.has(kind)) return;
    if (const auto text = supply.link->messages.filled(kind, {subject, {}})) say(supply, *text);
  }
  void ask(const PlanSupply& supply, MessageKind kind, const std::string& subject) { tell(supply, kind, subject); }

  void set_up_channel(const PlanSupply& supply, const PlanChannel& channel) {
    std::string mistake;
    for (const SetupStep& step : setup_steps(channel, *supply.link, mistake)) {
      say(supply, step.message);
      ask(supply, MessageKind::Complete, "");
      if (step.question) ask(supply, *step.question, channel.subject);
    }
  }

  void send(const TableInstant& instant) {
    std::vector<bool> is_told(plan_.supplies.size());
    for (const TableRow& row : instant.rows) {
      std::optional<std::vector<std::string>> texts;
      std::size_t supply = 0;
      if (const auto channel = plan_.find_channel(row.name)) {
        supply = plan_.channels[*channel].supply;
        texts = writer_.messages(plan_.channels[*channel], *plan_.supplies[supply].link, row);
      } else if (const auto line = plan_.find_line(row.name)) {
        supply = plan_.lines[*line].supply;
        texts = RowWriter::messages(plan_.lines[*line], *plan_.supplies[supply].link, row);
      }
      if (!texts) continue;
      for (const std::string& text : *texts) say(plan_.supplies[supply], text, instant.time);
      is_told[supply] = is_told[supply] || !texts->empty();
    }
    for (std::size_t i = 0; i < is_told.size(); ++i) {
      if (is_told[i])
        say(plan_.supplies[i], plan_.supplies[i].link->messages.text(MessageKind::Complete), instant.time);
    }
  }

  const Plan& plan_;
  DryRunView& view_;
  RowWriter writer_;
  Agenda agenda_;
};

}  // namespace

std::string dry_run(std::FILE* table, const Plan& plan, DryRunView& view) {
  DryRun run(plan, view);
  run.start();
  run.set_up();
  TableHead head;
  std::string mistake = read_table(table, head, [&](const TableItem& item) {
    run.take(item);
    return true;
  });
  run.end();
  return mistake;
}

}  // namespace rampart::bench_run
