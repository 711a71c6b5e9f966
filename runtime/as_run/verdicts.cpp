#include "runtime/as_run/verdicts.h"

#include <algorithm>
#include <cmath>

#include "lang/findings/logs.h"
#include "runtime/as_run/excursion_words.h"

namespace rampart::as_run {
namespace {

std::string time_text(double seconds) {
  return to_text(std::round(seconds * 1e3) / 1e3, "s");
}

// The day of the run: as the description says, or that of the log's times.
std::optional<Date> date_of(const AsRun& answer, const Survey& survey) {
  if (answer.description.date) return answer.description.date;
  if (answer.description.time != LogTimeFormat::Iso8601) return std::nullopt;
  const auto time = std::chrono::sys_time<Nanoseconds>(survey.origin);
  return Date{std::chrono::floor<std::chrono::days>(time)};
}

double run_of(double log, const AsRun& answer) {
  return (log - *answer.shift_s) / (1 + answer.clock_error);
}

bool is_within_run(const SeenGap& gap, const AsRun& answer) {
  return run_of(gap.to, answer) > 0 && run_of(gap.from, answer) < answer.duration_s;
}

class Decider {
 public:
  Decider(const Profile& profile, const Survey& survey, AsRun& answer, FindingSink& findings)
      : profile_(profile), survey_(survey), answer_(answer), findings_(findings) {}

  void decide() {
    if (survey_.has_broken) open("some lines of the log cannot be read");
    if (survey_.failed) open("the log could not be read to its end");
    if (survey_.ends_at) open("the times of the log go back in line " + std::to_string(*survey_.ends_at));
    check_calibration();
    if (answer_.shift_s) {
      check_gaps();
      if (const std::string missing = missing_of(profile_, survey_, answer_); !missing.empty()) open(missing);
    }
    for (const Excursion& excursion : answer_.excursions) report(excursion);
    for (const MeasuredResult& rule : answer_.rules) report(rule, true);
    for (const MeasuredResult& expectation : answer_.expectations) report(expectation, false);
    decide_sequence();
    decide_response();
  }

 private:
  void check_calibration() {
    const std::optional<Date> date = date_of(answer_, survey_);
    for (const LogInstrument& instrument : answer_.description.instruments) {
      if (!instrument.calibration_due) continue;
      const std::string due = date_text(*instrument.calibration_due);
      if (!date) {
        findings_.report(finding::CalibrationUnknown, instrument.due_span, instrument.name, due)
            .hint("write the day of the run, as in `date: 2027-01-31`");
      } else if (*date > *instrument.calibration_due) {
        findings_.report(finding::CalibrationOverdue, instrument.due_span, instrument.name, due, date_text(*date));
        open("the calibration of instrument `" + instrument.name + "` was overdue");
      }
    }
  }

  // What the log does not tell: neither verdict can be a pass.
  void open(const std::string& why) {
    if (unknown_.empty()) unknown_ = why;
  }

  void check_gaps() {
    std::vector<SeenGap> told;
    for (std::size_t i = 0; i < survey_.rails.size(); ++i) {
      const double interval = survey_.rails[i].interval;
      for (const SeenGap& gap : survey_.rails[i].gaps) {
        if (!is_within_run(gap, answer_)) continue;
        const bool is_told = std::any_of(told.begin(), told.end(), [&](const SeenGap& other) {
          return std::abs(other.from - gap.from) <= interval && std::abs(other.to - gap.to) <= interval;
        });
        if (is_told) continue;
        told.push_back(gap);
        findings_.report(finding::LogGap, place_of_line(answer_.log, gap.line, findings_),
                         "`" + profile_.rails[i].name + "`", time_text(gap.to - gap.from), time_text(gap.from),
                         time_text(interval));
      }
    }
  }

  [[nodiscard]] bool is_of_sequence(const Excursion& excursion) const {
    return !answer_.from_commands && excursion.quantity == Measured::Voltage && row_of(excursion.cause).is_of_sequence;
  }

  void report(const Excursion& excursion) {
    const Span& statement = excursion.from.statement;
    const Span place = statement.end > statement.begin ? statement : Span{findings_.texts().add(answer_.log, ""), 0, 0};
    const std::string text = excursion_text(profile_, excursion);
    const std::string hint = "in the log from " + time_text(excursion.from.log_s) + " on";
    if (is_of_sequence(excursion)) {
      ++sequence_;
      if (first_of_sequence_.empty()) first_of_sequence_ = text;
      findings_.report(finding::SequenceDiffers, place, text).hint(hint);
    } else {
      ++response_;
      if (first_of_response_.empty()) first_of_response_ = text;
      findings_.report(finding::ResponseDiffers, place, text).hint(hint);
    }
  }

  void report(const MeasuredResult& result, bool is_rule) {
    if (result.result != Observed::Fail) return;
    ++response_;
    const std::string by =
        result.most ? "by at least " + to_text(std::abs(*result.most), result.unit) : "it does not hold";
    if (first_of_response_.empty()) {
      first_of_response_ =
          (is_rule ? "rule \"" : "`") + result.text + (is_rule ? "\" is broken " : "` is not met ") + by;
    }
    findings_.report(is_rule ? finding::MeasuredRule : finding::MeasuredExpectation, result.span, result.text, by);
  }

  [[nodiscard]] std::string count_text(std::int64_t count) const {
    return count > 1 ? ", and " + std::to_string(count - 1) + " more" : "";
  }

  void decide_sequence() {
    const std::string edges = std::to_string(answer_.edges_matched) + " of " + std::to_string(answer_.edges_planned) +
                              " edges of voltage are where the table has them";
    if (!answer_.shift_s) {
      answer_.sequence_reason = not_found();
    } else if (sequence_ > 0) {
      answer_.sequence = Verdict::Fail;
      answer_.sequence_reason = first_of_sequence_ + count_text(sequence_);
    } else if (!unknown_.empty()) {
      answer_.sequence_reason = unknown_;
    } else if (!answer_.from_commands && answer_.edges_matched < answer_.edges_planned) {
      answer_.sequence_reason = edges;
    } else {
      answer_.sequence = Verdict::Pass;
      answer_.sequence_reason =
          answer_.from_commands ? std::to_string(answer_.commands) + " commands as the table has them" : edges;
    }
  }

  void decide_response() {
    const bool any = std::any_of(answer_.rails.begin(), answer_.rails.end(), [](const MeasuredFigures& rail) {
      return rail.voltage_judged || rail.current_judged;
    });
    std::int64_t single = 0;
    for (const MeasuredFigures& rail : answer_.rails) single += rail.single;
    if (!answer_.shift_s) {
      answer_.response_reason = not_found();
    } else if (response_ > 0) {
      answer_.response = Verdict::Fail;
      answer_.response_reason = first_of_response_ + count_text(response_);
    } else if (!unknown_.empty() || !any) {
      answer_.response_reason = any ? unknown_ : "nothing says how well anything was measured";
    } else {
      answer_.response = Verdict::Pass;
      answer_.response_reason = "no excursion in " + std::to_string(answer_.readings) + " readings" +
                                (single > 0 ? ", " + std::to_string(single) + " single ones outside" : "");
    }
  }

  [[nodiscard]] std::string not_found() const {
    return survey_.readings == 0 ? "the log has no readings that can be used" : "the run was not found in the log";
  }

  const Profile& profile_;
  const Survey& survey_;
  AsRun& answer_;
  FindingSink& findings_;
  std::string unknown_;
  std::int64_t sequence_ = 0;
  std::int64_t response_ = 0;
  std::string first_of_sequence_;
  std::string first_of_response_;
};

}  // namespace

std::string missing_of(const Profile& profile, const Survey& survey, const AsRun& answer) {
  for (std::size_t i = 0; i < survey.rails.size(); ++i) {
    const SurveyedRail& rail = survey.rails[i];
    const std::string name = "`" + profile.rails[i].name + "`";
    if (rail.readings == 0) return "the log has no reading of " + name;
    for (const SeenGap& gap : rail.gaps) {
      if (is_within_run(gap, answer)) {
        return "readings of " + name + " are missing from " + time_text(run_of(gap.from, answer)) + " on";
      }
    }
    const double room = 3 * rail.interval + 0.001;
    const double first = run_of(rail.first, answer);
    const double last = run_of(rail.last, answer);
    if (first > room) return "the first reading of " + name + " is at " + time_text(first);
    if (last < answer.duration_s - room) {
      return "the last reading of " + name + " is at " + time_text(last) + " of " + time_text(answer.duration_s);
    }
  }
  for (std::size_t i = 0; i < answer.segments.size(); ++i) {
    if (!answer.segments[i].observed) return "nothing shows when segment " + std::to_string(i + 1) + " began";
  }
  return {};
}

void decide(const Profile& profile, const Survey& survey, AsRun& answer, FindingSink& findings) {
  Decider(profile, survey, answer, findings).decide();
}

}  // namespace rampart::as_run
