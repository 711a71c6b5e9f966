#include <charconv>
#include <memory>

#include "runtime/cli/commands/commands.h"
#include "runtime/cli/commands/written_file.h"
#include "runtime/cli/json/json.h"
#include "runtime/cli/json/sarif.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/shared/common.h"
#include "runtime/cli/shared/file_sink.h"
#include "runtime/cli/terminal/terminal.h"
#include "runtime/cli/text/every_fault_text.h"
#include "runtime/cli/text/headline_text.h"
#include "runtime/cli/text/readings_text.h"
#include "runtime/cli/text/simulation_text.h"
#include "runtime/cli/text/spread_text.h"
#include "runtime/cli/text/timeline_text.h"
#include "runtime/waveform/waveform_csv.h"

namespace rampart::cli {
namespace {

// More are shown with --full.
constexpr std::size_t kReadingsOfFirstScreen = 8;

struct SimulateOptions {
  CommonOptions common;
  RunChoice run;
  std::string waveforms;    // file for the courses
  std::int64_t sample = 0;  // runs; 0: none
  std::uint64_t seed = 1;
  PartChoice part;
  std::string profile;
  bool is_full = false;  // the tables too
};

// False, after a message, where they could not all be written.
bool write_waveforms(const Answer& answer, const std::string& path) {
  OutputFile file(path);
  FileSink sink(file);
  const std::optional<double> left_out_from =
      write_waveform_csv(*answer.compiled.profile(), *answer.predictions.waveforms, sink);
  sink.finish();
  if (!file.commit()) {
    could_not_write(path, file.failure());
    return false;
  }
  if (left_out_from) {
    say("rampart: " + path + ": ends at " + to_text(*left_out_from, "s") + ": " + std::to_string(kMaxWaveSamples) +
        " samples are kept and " + std::to_string(kMaxWaveformRows) + " rows written at most");
  }
  return true;
}

// The first screen comes before the findings where both go to one terminal, and the tables after them.
bool print_text(const Answers& answers, const SimulateOptions& options, const std::optional<Terminal>& terminal) {
  const Answer& answer = answers.front();
  std::string first;
  if (!answer.is_unreadable()) first = headline_text(answer, options.common.strict);
  const bool is_shown = answer.predictions.shown() != nullptr;
  if (is_shown) {
    first += "\n" + run_text(answer, terminal ? timeline_text(answer, *terminal) : "");
    first += spread_summary(answer);
    const std::string readings = options.is_full ? "" : readings_text(answer, kReadingsOfFirstScreen);
    if (!readings.empty()) first += "\n" + readings;
  }
  bool written = first.empty() || print_lines(first);
  print_findings(answers, options.common.strict);
  std::string tables;
  if (answer.predictions.every_fault) tables += every_fault_text(answer);
  if (is_shown && options.is_full) {
    tables += simulation_tables(answer);
    if (answer.predictions.varied) tables += "\n" + spread_tables(answer);
  }
  if (!tables.empty()) written = print_lines(tables) && written;
  return written;
}

int simulate_profile(const SimulateOptions& options) {
  if (options.waveforms == "-") throw UsageError{"--waveforms", "standard output has the answer: name a file"};
  const std::optional<Terminal> terminal = options.common.format == Format::Text ? output_terminal() : std::nullopt;
  PredictOptions predict_options = options.common.predict_options();
  predict_options.needs_load = true;
  options.run.put_into(predict_options);
  if (options.sample > 0) predict_options.sample = spread::SampleOptions{options.sample, options.seed};
  predict_options.sharing = options.part.sharing();
  const bool is_shared = predict_options.sharing.part || !predict_options.sharing.join.empty();
  if (is_shared && !predict_options.corners && !predict_options.sample) {
    throw UsageError{options.part.part.empty() ? "--join" : "--part", "needs --corners or --sample: these are shared"};
  }
  if (terminal) predict_options.waveforms = WaveOverflow::Condense;
  if (!options.waveforms.empty()) predict_options.waveforms = WaveOverflow::LeaveOut;
  Answers answers;
  try {
    answers.push_back(answer_from_disk(options.profile, options.common.compile_options(), predict_options));
  } catch (const PartMistake& mistake) {
    throw UsageError{"--join", mistake.what};
  }
  const Answer& answer = answers.front();
  if (answer.predictions.part) return print(part_document(*answer.predictions.part)) ? kDone : kCouldNotRun;
  const int code = exit_code(answers, options.common.strict);
  bool written = true;
  switch (options.common.format) {
    case Format::Text:
      written = print_text(answers, options, terminal);
      break;
    case Format::Json:
      written = print(simulation_document(answer, options.common.strict));
      break;
    case Format::Sarif:
      written = print(sarif_document(answers));
      break;
  }
  if (!options.waveforms.empty() && answer.predictions.waveforms && answer.predictions.load) {
    if (!may_be_written(options.waveforms) || !write_waveforms(answer, options.waveforms)) written = false;
  }
  return written ? code : kCouldNotRun;
}

// The number would wrap or stop at the largest one, and two seeds draw alike; an empty text is right.
std::string why_no_seed(const std::string& text) {
  std::uint64_t seed = 0;
  const char* end = text.data() + text.size();
  const auto [read, error] = std::from_chars(text.data(), end, seed);
  if (error == std::errc() && read == end) return {};
  return "`" + text + "` is not a whole number from 0 to 18446744073709551615";
}

}  // namespace

void add_simulate(Program& program) {
  auto options = std::make_shared<SimulateOptions>();
  Command command = program.add_command("simulate", "Simulate what a profile does to its load");
  command.option("PROFILE", options->profile, "profile to simulate; - is standard input").required();
  command.flag("--full", options->is_full,
               "show the tables too: figures, events, and all margins, rules, expectations");
  add_run_choice(command, options->run);
  command
      .option("--waveforms", options->waveforms,
              "write setpoint, voltages, current and power of each rail over time as CSV")
      .value_name("FILE");
  Option sample = command.option("--sample", options->sample, "simulate N runs with random values from all tolerances")
                      .value_name("N")
                      .between(1, spread::kMostSamples);
  command.option("--seed", options->seed, "seed of the random values, a whole number from 0")
      .value_name("S")
      .needs(sample)
      .checked_by(why_no_seed);
  add_part_choice(command, options->part);
  add_common_options(command, options->common);
  command.footer("Example: rampart simulate burn-in.ramp --load heavier.load.yaml --format json");
  command.action([options] { return simulate_profile(*options); });
}

}  // namespace rampart::cli
