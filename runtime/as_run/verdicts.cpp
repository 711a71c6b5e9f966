#include "runtime/as_run/verdicts.h"

#include <algorithm>
#include <cmath>

#include "lang/findings/logs.h"
#include "lang/values/short_text.h"
#include "runtime/as_run/excursion_words.h"
#include "runtime/as_run/run_times.h"

namespace rampart::as_run {
namespace {

// Less lateness is not worth a word, s.
constexpr double kToldLate = 1e-3;

bool is_within(const SeenGap& gap, const Logger& logger, const OnTime& needed) {
  return logger.clock.run_of(gap.to) > needed.from && logger.clock.run_of(gap.from) < needed.to;
}

// An output that is off has no current to read: many instruments show none.
OnTime needed_of(Measured quantity, const OnTime& on, double duration) {
  if (quantity == Measured::Voltage) return {0, duration};
  return {std::max(0.0, on.from), std::min(duration, on.to)};
}

bool are_alike(const SeenGap& a, const SeenGap& b, double interval) {
  return std::abs(a.from - b.from) <= interval && std::abs(a.to - b.to) <= interval;
}

// "`core`", or the quantity of it that is read otherwise than the other one.
std::string subject_of(const std::string& rail, Measured quantity, bool is_alone) {
  if (!is_alone) return rail;
  return (quantity == Measured::Voltage ? "the voltage of " : "the current of ") + rail;
}

Measured other_than(Measured quantity) {
  return quantity == Measured::Voltage ? Measured::Current : Measured::Voltage;
}

// What one log has no readings of, of a quantity that it reads.
std::string missing_in(const Logger& logger, const SurveyedRail& rail, Measured quantity, const std::string& name,
                       const OnTime& needed, double duration) {
  const SurveyedQuantity& seen = rail.of(quantity);
  for (const SeenGap& gap : seen.gaps) {
    if (is_within(gap, logger, needed)) {
      return "readings of " + name + " are missing from " + time_text(logger.clock.run_of(gap.from)) + " on";
    }
  }
  const double room = 3 * seen.interval + 0.001;
  const double first = logger.clock.run_of(seen.first);
  const double last = logger.clock.run_of(seen.last);
  if (last < 0 || first > duration) return "no reading of " + name + " lies within the run";
  if (first > needed.from + room) return "the first reading of " + name + " is at " + time_text(first);
  if (last < needed.to - room) {
    return "the last reading of " + name + " is at " + time_text(last) + " of " + time_text(duration);
  }
  return {};
}

// The same of a rail.
std::string missing_in(const Logger& logger, std::size_t rail, const std::string& name, const OnTime& on,
                       double duration) {
  const SurveyedRail& seen = logger.survey.rails[rail];
  const auto missing = [&](Measured quantity, const std::string& of) {
    const OnTime needed = needed_of(quantity, on, duration);
    if (!seen.has(quantity)) {
      const bool is_lost = seen.of(quantity).is_expected && needed.to > needed.from;
      return is_lost ? "no reading of " + of + " can be used" : std::string();
    }
    return missing_in(logger, seen, quantity, of, needed, duration);
  };
  for (const Measured quantity : {Measured::Voltage, Measured::Current}) {
    if (missing(quantity, name).empty()) continue;
    const Measured other = other_than(quantity);
    const bool is_alone = seen.has(other) && missing(other, name) != missing(quantity, name);
    return missing(quantity, subject_of(name, quantity, is_alone));
  }
  return {};
}

class Decider {
 public:
  Decider(const Judgement& judgement, AsRun& answer, FindingSink& findings)
      : profile_(judgement.profile),
        run_(judgement.run),
        on_times_(judgement.on_times),
        max_late_(judgement.max_late_s),
        mismatches_(judgement.mismatches),
        answer_(answer),
        findings_(findings) {}

  void decide() {
    for (const std::string& mismatch : mismatches_) {
      ++sequence_;
      if (first_of_sequence_.empty()) first_of_sequence_ = mismatch;
      blame(mismatch);
      open(mismatch);
    }
    for (const auto& logger : run_.loggers()) check(*logger);
    if (answer_.is_found()) {
      for (const auto& logger : run_.loggers()) {
        if (logger->shift_s) check_gaps(*logger);
      }
      if (const std::string missing = missing_of(profile_, run_, on_times_, answer_); !missing.empty()) {
        (answer_.from_commands ? unread_ : unknown_) = unknown_.empty() ? missing : unknown_;
      }
      check_single();
    }
    if (!answer_.stopped.empty()) report_stopped();
    if (answer_.broken_off_s) {
      open("the log ends at " + time_text(*answer_.broken_off_s) + ", without the end of the run");
    }
    for (const CommandDifference& difference : answer_.differences) report(difference);
    report_late_rows();
    for (const RailId rail : answer_.left_on) report_left_on(rail);
    for (const Excursion& excursion : answer_.excursions) report(excursion);
    for (const MeasuredResult& rule : answer_.rules) report(rule, true);
    for (const MeasuredResult& expectation : answer_.expectations) report(expectation, false);
    decide_sequence();
    decide_response();
  }

 private:
  void check(const Logger& logger) {
    const Survey& survey = logger.survey;
    const std::string of = run_.loggers().size() > 1 ? "the log " + logger.path : "the log";
    if (survey.has_broken) open("some lines of " + of + " cannot be read");
    if (survey.failed) open(of + " could not be read to its end");
    if (logger.has_broken_record) open("the record of " + of + " cannot be read");
    if (survey.ends_at) open("the times of " + of + " go back in line " + std::to_string(*survey.ends_at));
    if (std::isfinite(logger.judged_to)) {
      open("the clock of " + of + " jumps after " + log_time_text(logger.judged_to) + " of its time");
    }
    if (answer_.is_found() && !logger.shift_s) open("the run was not found in " + logger.path);
    check_calibration(logger);
  }

  void check_calibration(const Logger& logger) {
    const std::optional<Date> date = day_of(logger);
    for (const LogInstrument& instrument : logger.description.instruments) {
      if (!instrument.calibration_due) continue;
      const std::string due = date_text(*instrument.calibration_due);
      if (!date) {
        findings_.report(finding::CalibrationUnknown, instrument.due_span, instrument.name, due)
            .hint("give the date of the run, as in `date: 2027-01-31`");
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

  // A reading or two outside the range prove nothing, but many are no coincidence: levels that last for one reading
  // only, or an order that differs for less than two.
  void check_single() {
    constexpr std::int64_t kMostByChance = 2;
    constexpr std::int64_t kShareOfFew = 20;
    constexpr std::int64_t kShareOfMany = 100;
    for (const MeasuredFigures& rail : answer_.rails) {
      const std::int64_t share = rail.single > kMostByChance ? kShareOfMany : kShareOfFew;
      if (share * rail.single <= rail.readings) continue;
      std::string& why = answer_.from_commands ? unread_ : unknown_;
      if (!why.empty()) continue;
      why = std::to_string(rail.single) + " of " + std::to_string(rail.readings) + " readings of `" +
            profile_[rail.rail].name + "` are outside the range, each alone: read more often";
    }
  }

  void check_gaps(const Logger& logger) {
    std::vector<SeenGap> told;
    for (std::size_t i = 0; i < logger.survey.rails.size(); ++i) {
      for (const Measured quantity : {Measured::Voltage, Measured::Current}) check_gaps(logger, i, quantity, told);
    }
  }

  // What all rails lack is told once.
  void check_gaps(const Logger& logger, std::size_t rail, Measured quantity, std::vector<SeenGap>& told) {
    const SurveyedRail& seen = logger.survey.rails[rail];
    const double interval = seen.of(quantity).interval;
    const OnTime needed = needed_of(quantity, on_times_[rail], answer_.duration_s);
    const auto is_in = [&](const std::vector<SeenGap>& gaps, const SeenGap& gap) {
      return std::any_of(gaps.begin(), gaps.end(),
                         [&](const SeenGap& other) { return are_alike(other, gap, interval); });
    };
    for (const SeenGap& gap : seen.of(quantity).gaps) {
      // A clock that jumps is told already.
      if (gap.from >= logger.judged_to || !is_within(gap, logger, needed)) continue;
      if (is_in(told, gap)) continue;
      told.push_back(gap);
      const Measured other = other_than(quantity);
      const bool is_alone = seen.has(other) && !is_in(seen.of(other).gaps, gap);
      findings_.report(finding::LogGap, place_of_line(logger.path, gap.line, findings_),
                       subject_of("`" + profile_.rails[rail].name + "`", quantity, is_alone),
                       time_text(gap.to - gap.from), log_time_text(gap.from), time_text(interval));
    }
  }

  // Where a finding without a statement points: the log.
  [[nodiscard]] Span place_of(const Span& statement, std::size_t log) const {
    if (statement.end > statement.begin) return statement;
    return Span{findings_.texts().add(answer_.logs[log].path, ""), 0, 0};
  }

  void add_to_sequence(const Span& statement, std::size_t log, const std::string& text, const std::string& hint) {
    ++sequence_;
    if (first_of_sequence_.empty()) first_of_sequence_ = text;
    auto added = findings_.report(finding::SequenceDiffers, place_of(statement, log), text);
    if (!hint.empty()) added.hint(hint);
  }

  void report(const CommandDifference& difference) {
    std::string text = difference.text;
    if (difference.count > 1) {
      text += "; " + std::to_string(difference.count) + " times until " + to_text(difference.to_s, "s");
    }
    add_to_sequence(difference.statement, answer_.leader, text, "in the log at " + log_time_text(difference.log_s));
  }

  // Lateness is told also where it is small enough, once a statement.
  void report_late_rows() {
    struct Late {
      const LateRow* first = nullptr;
      std::int64_t count = 0;
      double most = 0;
    };
    std::vector<Late> all;
    for (const LateRow& row : answer_.late_rows) {
      if (row.late_s > max_late_) {
        add_to_sequence(row.statement, answer_.leader, late_text(row), "in the log at " + log_time_text(row.log_s));
        continue;
      }
      if (row.total_s < kToldLate) continue;
      auto late = std::find_if(all.begin(), all.end(), [&](const Late& one) { return is_alike(*one.first, row); });
      if (late == all.end()) late = all.insert(late, Late{&row, 0, 0});
      ++late->count;
      late->most = std::max(late->most, row.total_s);
    }
    for (const Late& late : all) {
      const LateRow& first = *late.first;
      const bool is_one = late.count == 1;
      const std::string text = is_one ? late_text(first)
                                      : std::to_string(late.count) + " rows late, at most " + time_text(late.most) +
                                            ", from " + to_text(first.planned_s, "s") + " of segment " + first.segment;
      findings_.report(finding::LateRow, place_of(first.statement, answer_.leader), text)
          .hint(std::string("in the log ") + (is_one ? "at " : "from ") + log_time_text(first.log_s) +
                (is_one ? "" : " on"));
    }
  }

  [[nodiscard]] static bool is_alike(const LateRow& a, const LateRow& b) {
    const bool has_statement = a.statement.end > a.statement.begin;
    return a.segment == b.segment && a.statement == b.statement && (has_statement || a.channel == b.channel);
  }

  // What came before it may have been late already.
  [[nodiscard]] static std::string late_text(const LateRow& row) {
    std::string text = "the row of `" + row.channel + "` at " + to_text(row.planned_s, "s") + " of segment " +
                       row.segment + " is " + time_text(row.total_s) + " late";
    if (row.late_s < row.total_s) text += ", " + time_text(row.late_s) + " later than the row before";
    return text;
  }

  void report_left_on(RailId rail) {
    add_to_sequence({}, answer_.leader, "the output of `" + profile_[rail].name + "` is on at the end of the log",
                    answer_.trip_s
                        ? "the run ended early at " + time_text(*answer_.trip_s) + ": all outputs should be off"
                        : "the table ends with it off");
  }

  void report_stopped() {
    const std::string text = "the run was stopped at " + time_text(answer_.trip_s.value_or(0)) + ": " + answer_.stopped;
    add_to_sequence({}, answer_.leader, text, "");
    blame(text);
  }

  // What comes first makes what follows from it.
  void blame(const std::string& text) {
    if (answer_.cause.empty()) answer_.cause = text;
  }

  [[nodiscard]] bool is_of_sequence(const Excursion& excursion) const {
    return !answer_.from_commands && excursion.quantity == Measured::Voltage && row_of(excursion.cause).is_of_sequence;
  }

  void report(const Excursion& excursion) {
    const Span& statement = excursion.from.statement;
    const std::string text = excursion_text(profile_, excursion);
    if (excursion.cause == Cause::Tripped) blame(text);
    const std::string log = answer_.logs.size() > 1 ? answer_.logs[excursion.log].path : "the log";
    const std::string hint = "in " + log + " from " + log_time_text(excursion.from.log_s) + " on";
    if (is_of_sequence(excursion)) {
      add_to_sequence(statement, excursion.log, text, hint);
      return;
    }
    ++response_;
    if (first_of_response_.empty()) first_of_response_ = text;
    findings_.report(finding::ResponseDiffers, place_of(statement, excursion.log), text).hint(hint);
  }

  void report(const MeasuredResult& result, bool is_rule) {
    if (result.result != Observed::Fail) return;
    ++response_;
    const std::string by =
        result.most ? "by at least " + short_text_down(std::abs(*result.most), result.unit) : "it does not hold";
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
                              " voltage edges are as in the table";
    if (!answer_.is_found() && mismatches_.empty()) {
      answer_.sequence_reason = not_found();
    } else if (sequence_ > 0) {
      answer_.sequence = Verdict::Fail;
      answer_.sequence_reason = first_of_sequence_ + count_text(sequence_);
    } else if (!unknown_.empty()) {
      answer_.sequence_reason = unknown_;
    } else if (const std::string unseen = without_voltage(); !answer_.from_commands && !unseen.empty()) {
      answer_.sequence_reason = "the log has no voltage of " + unseen;
    } else if (!answer_.from_commands && answer_.edges_planned == 0) {
      answer_.sequence_reason = "there is no voltage edge to compare";
    } else if (!answer_.from_commands && answer_.edges_matched < answer_.edges_planned) {
      answer_.sequence_reason =
          edges + "; the log does not show the others, with readings " + time_text(run_.longest_interval()) + " apart";
    } else {
      answer_.sequence = Verdict::Pass;
      answer_.sequence_reason = answer_.from_commands ? commands_text() : edges;
    }
  }

  // A rail that was read, but not its voltage: when it moved was not seen.
  [[nodiscard]] std::string without_voltage() const {
    for (std::size_t i = 0; i < profile_.rails.size(); ++i) {
      const bool is_seen = std::any_of(run_.loggers().begin(), run_.loggers().end(), [i](const auto& logger) {
        return logger->shift_s && logger->survey.rails[i].has(Measured::Voltage);
      });
      if (!is_seen) return "`" + profile_.rails[i].name + "`";
    }
    return {};
  }

  [[nodiscard]] std::string commands_text() const {
    std::string text = counted(static_cast<std::size_t>(answer_.commands), "command") +
                       (answer_.commands == 1 ? " is" : " are") + " as in the table";
    if (answer_.latest_s >= kToldLate) text += ", up to " + time_text(answer_.latest_s) + " late";
    return text;
  }

  void decide_response() {
    if (unknown_.empty()) unknown_ = unread_;
    const bool any = std::any_of(answer_.rails.begin(), answer_.rails.end(), [](const MeasuredFigures& rail) {
      return rail.voltage_judged || rail.current_judged;
    });
    std::int64_t single = 0;
    for (const MeasuredFigures& rail : answer_.rails) single += rail.single;
    if (!answer_.is_found()) {
      answer_.response_reason = not_found();
    } else if (response_ > 0) {
      answer_.response = Verdict::Fail;
      answer_.response_reason = first_of_response_ + count_text(response_) + followed_text();
    } else if (!unknown_.empty() || !any) {
      answer_.response_reason = unknown_.empty() ? "the accuracy of the measurements is not known" : unknown_;
    } else if (!answer_.unfollowed.empty()) {
      answer_.response_reason = answer_.unfollowed + " is not judged: its commands differ from the table";
    } else {
      answer_.response = Verdict::Pass;
      answer_.response_reason = "no excursion in " + std::to_string(answer_.readings()) + " readings";
      if (single > 0) {
        answer_.response_reason += ", " + std::to_string(single) +
                                   (single == 1 ? " single reading" : " single readings") + " outside the range";
      }
      answer_.response_reason += followed_text();
    }
  }

  // What the prediction is of.
  [[nodiscard]] std::string followed_text() const {
    std::string rails;
    for (const std::string& rail : answer_.followed) rails += (rails.empty() ? "" : ", ") + rail;
    return rails.empty() ? rails : "; predicted from the commands, not the table: " + rails;
  }

  [[nodiscard]] std::string not_found() const {
    return answer_.readings() == 0 ? "the log has no readings that can be used" : "the run was not found in the log";
  }

  const Profile& profile_;
  const LocatedRun& run_;
  const std::vector<OnTime>& on_times_;
  double max_late_;
  const std::vector<std::string>& mismatches_;
  AsRun& answer_;
  FindingSink& findings_;
  std::string unknown_;
  std::string unread_;  // does not keep commands from being judged
  std::int64_t sequence_ = 0;
  std::int64_t response_ = 0;
  std::string first_of_sequence_;
  std::string first_of_response_;
};

}  // namespace

std::string missing_of(const Profile& profile, const LocatedRun& run, const std::vector<OnTime>& on_times,
                       const AsRun& answer) {
  for (std::size_t i = 0; i < profile.rails.size(); ++i) {
    const std::string name = "`" + profile.rails[i].name + "`";
    bool is_read = false;
    for (const auto& logger : run.loggers()) {
      if (!logger->shift_s || logger->survey.rails[i].readings == 0) continue;
      is_read = true;
      if (std::string missing = missing_in(*logger, i, name, on_times[i], answer.needed_s); !missing.empty())
        return missing;
    }
    if (!is_read) return "the log has no reading of " + name;
  }
  for (std::size_t i = 0; i < run.segments().size(); ++i) {
    const bool is_needed = run.segments()[i].run_s < answer.needed_s;
    if (!run.segments()[i].observed && is_needed)
      return "the log does not show when segment " + std::to_string(i + 1) + " began";
  }
  return {};
}

void decide(const Judgement& judgement, AsRun& answer, FindingSink& findings) {
  Decider(judgement, answer, findings).decide();
}

}  // namespace rampart::as_run
