#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <exception>
#include <memory>

#include "compiler/export/sha256.h"
#include "lang/files/read_text.h"
#include "lang/findings/runs.h"
#include "lang/text/character.h"
#include "lang/values/quantity.h"
#include "runtime/bench_run/audited_table.h"
#include "runtime/bench_run/conductor.h"
#include "runtime/bench_run/dry_run.h"
#include "runtime/bench_run/run_log.h"
#include "runtime/bench_run/run_record.h"
#include "runtime/bench_run/signals.h"
#include "runtime/bench_run/start_checks.h"
#include "runtime/bench_run/table_copy.h"
#include "runtime/cli/commands/commands.h"
#include "runtime/cli/commands/run_screens.h"
#include "runtime/cli/json/run_json.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/text/run_text.h"
#include "runtime/link/link.h"
#include "runtime/support/output_file.h"

namespace rampart::cli {
namespace {

using bench_run::Plan;
using bench_run::Refusal;
using bench_run::RunEnd;

// Runs that last longer than someone is likely to be there: as long as the finding `unattended` has it.
constexpr Nanoseconds kUnattended = std::chrono::hours(8);

struct RunOptions {
  std::string table;
  std::string bench;
  std::string link;
  std::string log;
  std::string device;
  std::string operator_name;
  Nanoseconds max_late = std::chrono::milliseconds(100);
  bool is_dry = false;
  bool accepts_residual = false;
  bool needs_no_watchdog = false;
  bool is_json = false;
};

// A run on its way: what was read, and what was found.
struct Work {
  explicit Work(const RunOptions& given) : options(given) {}

  const RunOptions& options;
  Answers answers = Answers(1);
  std::vector<Refusal> refusals;
  bench_run::Stream table;
  std::optional<Bench> bench;
  std::optional<link::Link> link;
  bench_run::RunRecord record;
  std::optional<Plan> plan;
  bool has_failed = false;  // something that is no fault of the files

  [[nodiscard]] FindingSink& findings() { return answers.front().findings; }
  [[nodiscard]] bool is_right() { return refusals.empty() && !findings().has_errors(); }
};

bool print_text(bool is_json, const std::string& text) {
  return is_json ? print(text) : print_lines(text);
}

TextPtr read_file(Work& work, const std::string& path, bench_run::NamedDigest& digest) {
  Disk files;
  TextPtr text = read_text(files, {path, std::nullopt}, work.findings());
  if (text != nullptr) digest = {path, sha256_of(text->text())};
  return text;
}

void read_table_file(Work& work) {
  Disk files;
  std::string why;
  const FileStream stream = files.open(work.options.table, why);
  if (!stream) {
    report_unreadable({work.options.table, std::nullopt}, why, work.findings());
    return;
  }
  work.record.table.name = work.options.table;
  work.table = bench_run::private_copy(stream.get(), work.record.table.sha256);
  if (work.table) return;
  work.has_failed = true;
  work.refusals.push_back(
      {{}, work.options.table + ": could not be copied: " + std::strerror(errno), "make room for temporary files"});
}

void add_limits_of_options(Work& work, const bench_run::Person& person) {
  const Plan& plan = *work.plan;
  if (plan.asks_operator && !work.options.is_dry && !person.is_there()) {
    work.refusals.push_back({finding::NobodyToAsk.wording.name, "the table asks the operator, but there is no terminal",
                             "start it in a terminal, without --format json"});
  }
  bool watches = true;
  for (const bench_run::PlanSupply& supply : plan.supplies) watches = watches && supply.link->watchdog.has_value();
  if (plan.duration > kUnattended && !watches && !work.options.needs_no_watchdog) {
    work.refusals.push_back({finding::NoWatchdog.wording.name,
                             "the run lasts " + to_text(plan.duration) + ", longer than the " + to_text(kUnattended) +
                                 " for which someone is likely to be present, and not every supply has a watchdog",
                             "give the link file the messages of the watchdog, or use --no-watchdog"});
  }
}

// All that can be found before anything is opened.
void prepare(Work& work, const bench_run::Person& person) {
  bench_run::NamedDigest& bench_digest = work.record.bench;
  const TextPtr bench = read_file(work, work.options.bench, bench_digest);
  const TextPtr link = read_file(work, work.options.link, work.record.link);
  if (bench) work.bench = read_bench(work.findings().texts(), bench->id(), work.findings());
  if (link) work.link = link::read_link(work.findings().texts(), link->id(), work.findings());
  read_table_file(work);
  if (!work.bench || !work.link || !work.is_right()) return;
  bench_run::audit_for_run(work.table.get(), work.options.table, *work.bench, bench_digest.sha256, work.findings(),
                           work.refusals);
  if (!work.is_right()) return;
  work.plan = bench_run::make_plan(work.table.get(), *work.bench, *work.link, work.refusals);
  if (work.is_right()) add_limits_of_options(work, person);
}

int say_refusals(Work& work, int code) {
  std::string text;
  for (const Refusal& refusal : work.refusals) {
    if (work.options.is_json) {
      text += refusal_json(refusal);
      continue;
    }
    const bool is_failure = work.has_failed || refusal.name == finding::NoConnection.wording.name;
    say((is_failure ? "failed: " : "refused: ") + refusal.what +
        (refusal.name.empty() ? "" : " [" + std::string(refusal.name) + "]"));
    if (!refusal.hint.empty()) say("hint: " + refusal.hint);
  }
  return text.empty() || print(text) ? code : kCouldNotRun;
}

int play_dry(Work& work) {
  OutputFile output("-");
  const auto put = [&](const std::string& text) { output.write(work.options.is_json ? text : visible_lines(text)); };
  DryRunText as_text(put);
  DryRunJson as_json(put);
  bench_run::DryRunView& view = work.options.is_json ? static_cast<bench_run::DryRunView&>(as_json) : as_text;
  if (!work.options.is_json) {
    for (const bench_run::HandSetting& setting : work.plan->by_hand) put("set by hand: " + setting.text + "\n");
  }
  const std::string mistake = bench_run::dry_run(work.table.get(), *work.plan, view);
  if (!output.commit()) {
    say_failure("-", output.failure());
    return kCouldNotRun;
  }
  if (!mistake.empty()) say("the table ends too soon: " + mistake);
  return mistake.empty() ? kDone : kFoundErrors;
}

std::vector<bench_run::SupplyState> states_of(const Plan& plan, const std::vector<bench_run::ReadySupply>& supplies,
                                              const RunEnd& end) {
  std::vector<bench_run::SupplyState> states;
  for (std::size_t i = 0; i < plan.supplies.size(); ++i) {
    const link::SupplyLink& link = *plan.supplies[i].link;
    bench_run::SupplyState& state =
        states.emplace_back(bench_run::SupplyState{link.name, place_text(link.place), supplies[i].identity.text, {}});
    for (std::size_t channel = 0; channel < plan.channels.size(); ++channel) {
      if (plan.channels[channel].supply == i) state.outputs.push_back(end.outputs[channel]);
    }
  }
  return states;
}

// In the order of the plan.
std::vector<bench_run::OutputState> outputs_of(const Plan& plan, const std::vector<bench_run::SupplyState>& states) {
  std::vector<bench_run::OutputState> outputs;
  for (const bench_run::PlanChannel& channel : plan.channels) {
    for (const bench_run::OutputState& output : states[channel.supply].outputs) {
      if (output.channel == channel.name) outputs.push_back(output);
    }
  }
  return outputs;
}

bool write_record(const std::string& path, const std::string& text) {
  OutputFile file(path);
  file.write(text);
  if (file.commit()) return true;
  say_failure(path, file.failure());
  return false;
}

int code_of(const RunEnd& end, bool is_recorded) {
  for (const bench_run::OutputState& output : end.outputs) {
    const bool is_meant =
        end.is_complete && std::find(end.left_on.begin(), end.left_on.end(), output.channel) != end.left_on.end();
    if (!output.is_off() && !is_meant) return kMayBeOn;
  }
  if (end.has_failed || !is_recorded) return kCouldNotRun;
  return end.is_complete ? kDone : kFoundErrors;
}

template <class Screen>
int play(Work& work, Screen& screen) {
  const Plan& plan = *work.plan;
  bench_run::Mailbox mailbox;
  // Before any other thread is there.
  std::optional<bench_run::SignalsAsMail> signals(std::in_place, mailbox);
  screen.begin();
  const std::string record_path = work.options.log + ".run.json";
  if (access(record_path.c_str(), F_OK) == 0) {
    say_failure(record_path, "already exists: the record of a run is never replaced");
    return kCouldNotRun;
  }
  bench_run::RunLog log(work.options.log, mailbox);
  if (!log.is_open()) {
    say_failure(work.options.log, log.why());
    return kCouldNotRun;
  }
  RecordedView view(screen, log);
  bench_run::Start start =
      bench_run::start_up(plan, {work.options.max_late, work.options.accepts_residual}, view, screen, mailbox);
  const bool is_begun =
      start.refusals.empty() && write_record(record_path, record_json(work.record, plan, start.supplies, nullptr, ""));
  if (!is_begun) {
    std::vector<bench_run::SupplyState> left;
    if (start.is_touched) left = bench_run::leave_off(plan, start.supplies);
    bench_run::take_leave(start.supplies);
    screen.finish();
    log.remove();
    signals.reset();
    work.refusals = start.refusals;
    const int code = say_refusals(work, start.has_failed || start.refusals.empty() ? kCouldNotRun : kFoundErrors);
    if (start.is_touched &&
        !print_text(work.options.is_json, work.options.is_json ? final_json(left) : final_text(left)))
      return kCouldNotRun;
    return bench_run::not_off(left).empty() ? code : kMayBeOn;
  }
  RunEnd end;
  try {
    bench_run::TableItems items(work.table.get());
    end = bench_run::Conductor(plan, start.supplies, work.options.max_late, view, screen, mailbox).play(items);
  } catch (const std::exception& failure) {
    // No thread could start, or memory ran out: switch all outputs off.
    end = {};
    end.has_failed = true;
    end.reason = std::string("the system refuses what is needed: ") + failure.what();
    end.outputs = outputs_of(plan, bench_run::leave_off(plan, start.supplies));
  }
  bench_run::take_leave(start.supplies);
  screen.finish();
  const std::string digest = log.finish();
  if (digest.empty()) say_failure(work.options.log, log.why() + "; it ends with the last whole line");
  const bool is_recorded =
      write_record(record_path, record_json(work.record, plan, start.supplies, &end, digest)) && !digest.empty();
  // All is done and recorded: where nobody takes the last words, a signal ends the program.
  signals.reset();
  const std::vector<bench_run::SupplyState> states = states_of(plan, start.supplies, end);
  const std::string text = work.options.is_json ? run_end_json(end, states) : run_end_text(end);
  const bool is_said = print_text(work.options.is_json, text);
  return code_of(end, is_recorded && is_said);
}

template <class Screen>
int run_table(const RunOptions& options) {
  Work work(options);
  work.record = bench_run::begin_record();
  work.record.device = options.device;
  work.record.operator_name = options.operator_name;
  auto screen = std::make_unique<Screen>();
  prepare(work, *screen);
  if (!work.findings().findings().empty()) print_findings(work.answers, false);
  if (!work.is_right() || !work.plan) {
    screen->finish();
    const int code = work.has_failed ? kCouldNotRun : kFoundErrors;
    return say_refusals(work, work.findings().has_errors() ? exit_code(work.answers, false) : code);
  }
  if (!options.is_dry) return play(work, *screen);
  screen->finish();
  return play_dry(work);
}

Nanoseconds read_max_late(const std::string& text) {
  const std::optional<Quantity> quantity = parse_quantity(text);
  const bool is_time = quantity && quantity->dimension == dimension::kTime && quantity->value.sign() > 0;
  const std::optional<Nanoseconds> time = is_time ? to_nanoseconds(quantity->value) : std::nullopt;
  if (!time) throw UsageError{"--max-late", "`" + text + "` is not a time above 0, such as 50ms"};
  return *time;
}

}  // namespace

void add_run(Program& program) {
  auto options = std::make_shared<RunOptions>();
  Command command = program.add_command("run", "Play a finished table on real supplies, and log what happens");
  command.option("TABLE", options->table, "setpoint table in JSON, as build writes it").required();
  command.option("--bench", options->bench, "bench file that the table was built for").value_name("FILE").required();
  command.option("--link", options->link, "link file: how each supply is reached").value_name("FILE").required();
  command.option("--log", options->log, "new file for the log; its record gets the same name with .run.json")
      .value_name("FILE");
  command.flag("--dry-run", options->is_dry, "print the messages with their times; open no connection");
  command
      .option(
          "--max-late", [options](const std::string& text) { options->max_late = read_max_late(text); },
          "how late a row may be, and how far late rows may move those after them; default: 100ms")
      .value_name("TIME");
  command.flag("--accept-residual", options->accepts_residual,
               "play although more than 500 mV remain at an output that is off");
  command.flag("--no-watchdog", options->needs_no_watchdog, "play a run of more than 8 h without a watchdog");
  command.option("--device", options->device, "the device, for the record").value_name("TEXT");
  command.option("--operator", options->operator_name, "name of the operator, for the record").value_name("TEXT");
  command.choice(
      "--format", {"text", "json"}, [options](std::size_t word) { options->is_json = word == 1; },
      "how the run is shown");
  command.footer(
      "Not an emergency stop: keep a switch in reach that cuts the power by hardware.\n"
      "Ctrl-C plays the safe sequence; once more switches all outputs off at once.\n"
      "Exit codes: 0 played to its end, 1 refused or ended early, 2 something failed, 3 an output may be on.\n"
      "Example: rampart run power-up.json --bench two-supplies.bench.yaml --link two-supplies.link.yaml --log run.csv");
  command.action([options] {
    if (options->log.empty() && !options->is_dry) throw UsageError{"--log", "is required"};
    return options->is_json ? run_table<JsonScreen>(*options) : run_table<TextScreen>(*options);
  });
}

}  // namespace rampart::cli
