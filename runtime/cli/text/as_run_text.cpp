#include "runtime/cli/text/as_run_text.h"

#include <algorithm>
#include <cmath>

#include "runtime/as_run/excursion_words.h"
#include "runtime/as_run/run_times.h"
#include "runtime/cli/text/text_table.h"

namespace rampart::cli {
namespace {

using as_run::AsRun;
using as_run::MeasuredFigures;
using as_run::MeasuredResult;
using as_run::Verdict;

// To so many parts of a unit: a log says no more.
std::string rounded(double value, double parts, std::string_view unit) {
  return to_text(std::round(value * parts) / parts, unit);
}

std::string four_digits(double value, std::string_view unit) {
  if (value == 0 || !std::isfinite(value)) return to_text(0, unit);
  return rounded(value, std::pow(10, 3 - std::floor(std::log10(std::abs(value)))), unit);
}

std::string two_digits(double value, std::string_view unit) {
  if (value == 0 || !std::isfinite(value)) return to_text(0, unit);
  return rounded(value, std::pow(10, 1 - std::floor(std::log10(std::abs(value)))), unit);
}

class AsRunText {
 public:
  explicit AsRunText(const as_run::Evaluated& evaluated)
      : answer_(*evaluated.as_run), profile_(*evaluated.answer.compiled.profile()) {}

  std::string write() {
    write_verdicts();
    write_place();
    write_segments();
    write_rails();
    write_results("rule, as measured", answer_.rules);
    write_results("expectation, as measured", answer_.expectations);
    write_who();
    if (!answer_.not_judged.empty()) {
      text_ += "\nnot judged\n";
      for (const std::string& what : answer_.not_judged) text_ += "  " + what + "\n";
    }
    return text_;
  }

 private:
  // What decides comes first: what fails, else what is not known.
  void write_verdicts() {
    const bool fails = answer_.sequence == Verdict::Fail || answer_.response == Verdict::Fail;
    const Verdict whole = answer_.passes() ? Verdict::Pass : fails ? Verdict::Fail : Verdict::Inconclusive;
    text_ += std::string(as_run::verdict_word(whole)) + ": ";
    const std::string& reason = answer_.sequence == whole ? answer_.sequence_reason : answer_.response_reason;
    const std::string& decisive = reason.starts_with(answer_.cause) ? reason : answer_.cause;
    text_ += answer_.passes() ? "the bench played what was reviewed, and the device behaved as predicted" : decisive;
    text_ += "\n";
    const auto line = [&](const char* name, Verdict verdict, const std::string& reason) {
      const bool is_told = !answer_.passes() && reason == decisive;
      text_ +=
          std::string("  ") + name + std::string(as_run::verdict_word(verdict)) + (is_told ? "" : ", " + reason) + "\n";
    };
    line("sequence: ", answer_.sequence, answer_.sequence_reason);
    line("response: ", answer_.response, answer_.response_reason);
  }

  void write_place() {
    if (answer_.logs.size() > 1) {
      write_logs();
    } else {
      write_place(answer_.logs.front());
    }
  }

  void write_place(const as_run::LogSeen& log) {
    text_ += "\n" + std::to_string(log.readings) + " readings";
    if (log.interval_s > 0) text_ += ", " + four_digits(log.interval_s, "s") + " apart";
    if (log.shift_s) {
      text_ += "; the run begins at " + log_time_text(*log.shift_s, 4) + " in the log";
      if (!answer_.from_commands) {
        text_ += " +- " + two_digits(std::max(log.shift_uncertainty_s, 1e-6), "s");
        if (const std::string clock = clock_text(log); !clock.empty()) text_ += ", the clock of the log is " + clock;
      }
      text_ += "; " + duration_text();
    }
    text_ += "\n";
    const std::int64_t outside = log.before_run + log.after_run;
    if (outside > 0) {
      text_ += std::to_string(log.before_run) + " readings before the run and " + std::to_string(log.after_run) +
               " after it are not used\n";
    }
  }

  [[nodiscard]] std::string duration_text() const {
    std::string text = "planned to last " + rounded(answer_.planned_s, 1e3, "s");
    if (answer_.measured_s) text += ", measured " + rounded(*answer_.measured_s, 1e3, "s");
    return text;
  }

  static std::string clock_text(const as_run::LogSeen& log) {
    const double error = std::round(log.clock_error * 1e6);
    if (error == 0) return {};
    return std::to_string(static_cast<std::int64_t>(std::abs(error))) + " ppm " + (error > 0 ? "fast" : "slow");
  }

  void write_logs() {
    TextTable table({"log", "readings", "apart", "run begins at", "+-", "clock", "before", "after"});
    for (std::size_t i = 0; i < answer_.logs.size(); ++i) {
      const as_run::LogSeen& log = answer_.logs[i];
      const bool is_told = answer_.from_commands && i == answer_.leader;
      table.add({log.path, std::to_string(log.readings), log.interval_s > 0 ? four_digits(log.interval_s, "s") : "",
                 log.shift_s ? log_time_text(*log.shift_s, 4) : "not found",
                 log.shift_s && !is_told ? two_digits(std::max(log.shift_uncertainty_s, 1e-6), "s") : "",
                 log.shift_s ? clock_text(log) : "", std::to_string(log.before_run), std::to_string(log.after_run)});
    }
    text_ += "\n" + table.text();
    if (answer_.is_found()) text_ += "the run: " + duration_text() + "\n";
  }

  void write_segments() {
    if (answer_.segments.size() < 2) return;
    TextTable table({"segment", "begins at", "in the log", "after a wait of"});
    for (std::size_t i = 0; i < answer_.segments.size(); ++i) {
      const as_run::SegmentSeen& segment = answer_.segments[i];
      table.add({std::to_string(i + 1), rounded(segment.run_s, 1e3, "s"),
                 segment.observed ? log_time_text(segment.log_s) : "not observed",
                 i == 0 ? "" : rounded(segment.waited_s, 1e3, "s")});
    }
    text_ += "\n" + table.text();
  }

  void write_rails() {
    if (answer_.rails.empty()) return;
    TextTable table({"rail", "readings", "energy", "within", "predicted", "charge", "within", "predicted"});
    for (const MeasuredFigures& rail : answer_.rails) {
      const std::string& name = profile_[rail.rail].name;
      if (rail.energy_J == 0 && rail.charge_C == 0) {
        table.add({name, std::to_string(rail.readings), "", "", "", "", "", ""});
        continue;
      }
      const auto within = [&rail](double bound, std::string_view unit) {
        return rail.has_bound ? two_digits(bound, unit) : "not known";
      };
      table.add({name, std::to_string(rail.readings), four_digits(rail.energy_J, "J"), within(rail.energy_bound_J, "J"),
                 four_digits(rail.predicted_energy_J.value_or(0), "J"), four_digits(rail.charge_C, "C"),
                 within(rail.charge_bound_C, "C"), four_digits(rail.predicted_charge_C.value_or(0), "C")});
    }
    text_ += "\n" + table.text();
  }

  void write_results(const std::string& title, const std::vector<MeasuredResult>& results) {
    if (results.empty()) return;
    TextTable table({title, "result", "margin from", "to", ""});
    for (const MeasuredResult& result : results) {
      table.add({result.text, std::string(as_run::observed_word(result.result)),
                 result.least ? four_digits(*result.least, result.unit) : "",
                 result.most ? four_digits(*result.most, result.unit) : "", result.why});
    }
    text_ += "\n" + table.text();
  }

  void write_who() {
    for (const as_run::LogSeen& log : answer_.logs) {
      const std::string of = answer_.logs.size() > 1 ? log.path : std::string("the log");
      const std::string text = who_text(log.description);
      if (!text.empty()) text_ += "\nas the description of " + of + " says\n" + text;
      if (!log.record) continue;
      text_ += "\nas the record of " + of + " says\n";
      for (const auto& [what, value] : as_run::record_fields(*log.record)) text_ += "  " + what + ": " + value + "\n";
    }
  }

  static std::string who_text(const LogDescription& log) {
    std::string text;
    const auto add = [&text](const std::string& what, const std::string& value) {
      if (!value.empty()) text += "  " + what + ": " + value + "\n";
    };
    add("log", log.title);
    add("operator", log.who);
    add("device", as_run::device_words(log.device));
    add("ambient", log.ambient);
    for (const LogInstrument& instrument : log.instruments) {
      add("instrument " + instrument.name, as_run::instrument_words(instrument));
    }
    return text;
  }

  const AsRun& answer_;
  const Profile& profile_;
  std::string text_;
};

}  // namespace

std::string as_run_text(const as_run::Evaluated& evaluated) {
  return AsRunText(evaluated).write();
}

}  // namespace rampart::cli
