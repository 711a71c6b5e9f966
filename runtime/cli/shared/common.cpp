#include "runtime/cli/shared/common.h"

#include <unistd.h>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>

#include "lang/findings/render.h"
#include "lang/job/parallel.h"
#include "lang/text/character.h"
#include "lang/values/short_text.h"
#include "runtime/cli/shared/command_line.h"
#include "runtime/cli/terminal/progress.h"
#include "runtime/support/output_file.h"

namespace rampart::cli {
namespace {

int exit_code_of(const Answer& answer, bool strict) {
  if (answer.is_unreadable()) return kCouldNotRun;
  const auto& findings = answer.findings.findings();
  const Severity least = strict ? Severity::Warning : Severity::Error;
  const bool found = std::any_of(findings.begin(), findings.end(),
                                 [least](const Finding& finding) { return finding.severity >= least; });
  return found ? kFoundErrors : kDone;
}

std::string summary(const std::map<Severity, std::size_t>& counts, std::size_t accepted) {
  std::string text;
  for (const Severity severity : {Severity::Error, Severity::Warning, Severity::Note}) {
    const auto found = counts.find(severity);
    if (found == counts.end()) continue;
    if (!text.empty()) text += ", ";
    text += counted(found->second, severity_name(severity));
  }
  if (text.empty()) text = "no errors or warnings";
  return accepted == 0 ? text : text + ", " + std::to_string(accepted) + " accepted";
}

// Of one name; of more of them the source and the notes say nothing new.
constexpr std::size_t kShownWhole = 3;

// Mistakes in a text and predictions are each of their own kind.
bool is_often_alike(const Finding& finding) {
  return finding.family == Family::Limits || finding.family == Family::Practice;
}

class FindingsText {
 public:
  FindingsText(const Answer& answer, bool colour) : texts_(answer.findings.texts()), colour_(colour) {}

  std::string of(const Finding& finding) {
    Told& told = told_[finding.name];
    const bool is_new_hint = told.hint != finding.hint;
    told.hint = finding.hint;
    if (!is_often_alike(finding) || ++told.count <= kShownWhole) return render_text(finding, texts_, colour_);
    return render_line(finding, texts_, colour_) +
           (is_new_hint && !finding.hint.empty() ? render_hint(finding, colour_) : "");
  }

 private:
  struct Told {
    std::size_t count = 0;
    std::string hint;  // the one shown last
  };

  const SourceSet& texts_;
  bool colour_;
  std::map<std::string_view, Told> told_;
};

// Corners that take less than this begin without a word.
constexpr double kLongSeconds = 60;

// "2,048".
std::string grouped(std::size_t number) {
  std::string text = std::to_string(number);
  for (std::size_t at = text.size(); at > 3; at -= 3) text.insert(at - 3, ",");
  return text;
}

// How long something takes, rounded up: "30 s", "10 min", "1.3 h".
std::string about(double seconds) {
  if (seconds < 90) return to_text(std::ceil(seconds / 10) * 10, "s");
  if (seconds < 5400) return to_text(std::ceil(seconds / 60), "min");
  return to_text(std::ceil(seconds / 360) / 10, "h");
}

void tell_corners(std::size_t runs, double seconds) {
  if (seconds < kLongSeconds) return;
  say(grouped(runs) + " runs of corners: about " + about(seconds) +
      "; `rampart simulate --sample 200` tries a random part");
}

}  // namespace

CompileOptions InputOptions::compile_options() const {
  CompileOptions options;
  if (!bench.empty()) options.bench = bench;
  if (!load.empty()) options.load = load;
  options.settings = settings;
  return options;
}

PredictOptions CommonOptions::predict_options() const {
  PredictOptions options;
  options.corners = corners;
  options.needs_load = corners;
  return options;
}

void RunChoice::put_into(PredictOptions& options) const {
  options.every_fault = every_fault;
  if (!fault.empty()) options.fault = fault;
  if (!assert_line.empty()) options.assert_line = assert_line;
}

Sharing PartChoice::sharing() const {
  Sharing sharing;
  if (!part.empty()) sharing.part = read_part(part);
  if (!part.empty() && !sharing.part) {
    throw UsageError{"--part", "`" + part + "` is not a part such as 3/40, the third of 40"};
  }
  Disk disk;
  for (const std::string& path : join) {
    std::string why;
    const TextPtr text = disk.read(path, why);
    if (text == nullptr) throw UsageError{"--join", path + ": " + why};
    sharing.join.push_back({path, std::string(text->text())});
  }
  return sharing;
}

void add_format_options(Command& command, Format& format, bool& strict) {
  static constexpr Format kFormats[] = {Format::Text, Format::Json, Format::Sarif};
  command.choice(
      "--format", {"text", "json", "sarif"}, [&format](std::size_t at) { format = kFormats[at]; },
      "how to write the answer");
  command.flag("--strict", strict, "count warnings as errors, and show what the profile accepts");
}

void add_input_options(Command& command, InputOptions& options, Whose whose) {
  const bool of_two = whose == Whose::TwoProfiles;
  command
      .option("--bench", options.bench,
              of_two ? "bench file to use instead of the profiles'" : "bench file to use instead of the profile's")
      .value_name("FILE");
  command
      .option("--load", options.load,
              of_two ? "load file to use instead of the profiles'" : "load file to use instead of the profile's")
      .value_name("FILE");
  command
      .option("--set", options.settings,
              of_two ? "give a parameter of both profiles another value"
                     : "give a parameter another value, as in --set margin=3%")
      .value_name("NAME=VALUE")
      .one_value_each_time();
}

void add_common_options(Command& command, CommonOptions& options) {
  add_input_options(command, options);
  command.flag("--corners", options.corners,
               "try the ends of all tolerances of load and supplies, and report what fails there");
  add_format_options(command, options.format, options.strict);
}

void add_run_choice(Command& command, RunChoice& choice) {
  Option fault = command.option("--fault", choice.fault, "show the run with this fault of the load").value_name("NAME");
  Option asserted =
      command.option("--assert", choice.assert_line, "show the run in which an interlock acts, as in --assert stop=2s")
          .value_name("LINE=TIME");
  command.flag("--every-fault", choice.every_fault, "try a short and an open circuit on each rail throughout the run")
      .excludes(fault)
      .excludes(asserted);
}

void add_part_choice(Command& command, PartChoice& choice) {
  Option part = command.option("--part", choice.part, "do part K of N of the work, and write the result for --join")
                    .value_name("K/N");
  command.option("--join", choice.join, "join the parts that --part has written; the other options must be the same")
      .value_name("FILE...")
      .excludes(part);
}

Answer answer_from_disk(const std::string& path, const CompileOptions& compile_options,
                        const PredictOptions& predict_options) {
  Disk disk;
  PredictOptions options = predict_options;
  options.before_corners = tell_corners;
  return answer(disk, path, compile_options, options, {.progress = progress_line()});
}

Answers answer_all(const std::vector<std::string>& paths, const CommonOptions& options) {
  const CompileOptions compile_options = options.compile_options();
  const PredictOptions predict_options = options.predict_options();
  Answers answers;
  if (paths.size() == 1) {
    answers.push_back(answer_from_disk(paths.front(), compile_options, predict_options));
    return answers;
  }
  answers.resize(paths.size());
  run_parallel(paths.size(), {.progress = progress_line()}, [&](std::size_t i) {
    Disk disk;
    answers[i] = answer(disk, paths[i], compile_options, predict_options);
  });
  return answers;
}

int exit_code(const Answers& answers, bool strict) {
  int worst = kDone;
  for (const Answer& answer : answers) worst = std::max(worst, exit_code_of(answer, strict));
  return worst;
}

void print_findings(const Answers& answers, bool accepted) {
  const bool colour = isatty(STDERR_FILENO) != 0 && std::getenv("NO_COLOR") == nullptr;
  std::map<Severity, std::size_t> counts;
  std::size_t accepted_count = 0;
  std::string text;
  for (const Answer& answer : answers) {
    FindingsText words(answer, colour);
    for (const Finding& finding : answer.findings.findings()) {
      if (!finding.accepted || accepted) text += words.of(finding);
      if (finding.accepted) {
        ++accepted_count;
      } else {
        ++counts[finding.severity];
      }
    }
  }
  text += summary(counts, accepted_count) + "\n";
  std::fwrite(text.data(), 1, text.size(), stderr);
}

void say(const std::string& line) {
  const std::string text = visible_text(line) + "\n";
  std::fwrite(text.data(), 1, text.size(), stderr);
}

void say_failure(const std::string& path, const std::string& why) {
  say("rampart: " + (path == "-" ? "standard output" : path) + ": " + why);
}

bool print(const std::string& text) {
  OutputFile output("-");
  output.write(text);
  if (output.commit()) return true;
  say_failure("-", output.failure());
  return false;
}

bool print_lines(const std::string& text) {
  return print(visible_lines(text));
}

}  // namespace rampart::cli
