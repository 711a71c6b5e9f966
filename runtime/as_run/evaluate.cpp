#include "runtime/as_run/evaluate.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>
#include <set>
#include <utility>

#include "lang/findings/files.h"
#include "lang/findings/logs.h"
#include "runtime/as_run/commanded.h"
#include "runtime/as_run/expectation_check.h"
#include "runtime/as_run/located_run.h"
#include "runtime/as_run/measured_curve.h"
#include "runtime/as_run/rail_judge.h"
#include "runtime/as_run/reading_merge.h"
#include "runtime/as_run/record_check.h"
#include "runtime/as_run/rule_check.h"
#include "runtime/as_run/run_times.h"
#include "runtime/as_run/stop.h"
#include "runtime/as_run/verdicts.h"
#include "runtime/load/load_file.h"
#include "runtime/predict/origin.h"

namespace rampart::as_run {
namespace {

class Evaluator {
 public:
  Evaluator(Files& files, const Request& request, const Job& job, Evaluated& result)
      : request_(request),
        job_(job),
        result_(result),
        findings_(result.answer.findings),
        run_(files, {result.answer.compiled.run(), result.answer.compiled.safe(), result.answer.predictions.load.get()},
             findings_, job),
        table_(run_.table()) {}

  // False where a log cannot be read at all.
  bool evaluate() {
    if (!run_.read(request_.logs)) return false;
    if (run_.find()) {
      play();
      judge();
    }
    tell_logs();
    const std::vector<std::string> mismatches = check_records();
    decide({table_.profile(), run_, on_times_, request_.max_late_s, mismatches}, answer_, findings_);
    result_.as_played.waits = run_.waits();
    result_.as_run = std::move(answer_);
    return true;
  }

 private:
  // Predicts what was really played.
  void play() {
    AsPlayed played{run_.waits(), {}, {}};
    Recordings nominal = record(run_.played(), played, {}, job_.quietly());
    run_.settle(nominal.nominal);
    if (run_.leader().has_commands()) {
      commands_ = check_commands(run_, request_.max_late_s, job_);
      played.commanded = commanded_of(*commands_, run_, nominal.nominal.simulation.segment_starts, answer_.followed);
      result_.as_played.commanded = played.commanded;
    }
    // Another limit may trip.
    if (!played.commanded.empty()) nominal = record(run_.played(), played, {}, job_.quietly());
    stop_ = find_stop(run_, nominal.nominal.simulation);
    if (stop_) {
      if (stop_->tripped) answer_.excursions.push_back(trip_of(*stop_));
      CutOff cut;
      for (const RailSetup& setup : table_.rails()) {
        if (is_cut_off(run_, *stop_, setup.rail)) cut.rails.push_back(setup.rail);
      }
      cut.at = Instant{}.plus_seconds(stop_->run_s);
      result_.as_played.cut_off = cut;
      played.cut_off = std::move(cut);
    }
    recordings_ = record(run_.played(), played, {.ends = true, .loads = request_.corners}, job_);
    answer_.duration_s = answer_.needed_s = recordings_.nominal.simulation.duration_s;
    for (const RailWaveform& rail : recordings_.nominal.waveforms.rails) on_times_.push_back(on_time_of(rail));
    if (stop_) {
      answer_.trip_s = stop_->run_s;
      for (Excursion& trip : answer_.excursions) {
        const RailWaveform& rail = recordings_.nominal.waveforms.rails[static_cast<std::size_t>(trip.rail)];
        trip.from.statement = statement_at(rail, trip.from.run_s - 1e-6);  // what it played until then
      }
      wait_for_safe();
    }
  }

  // From when it is on first until it is on last.
  [[nodiscard]] static OnTime on_time_of(const RailWaveform& rail) {
    std::optional<OnTime> on;
    WaveCursor cursor(rail);
    while (const std::optional<WaveSample> sample = cursor.next()) {
      if (sample->values[static_cast<std::size_t>(WaveQuantity::Limit)] == 0) continue;
      if (!on) on = OnTime{sample->time, 0};
      on->to = sample->time;
    }
    return on.value_or(OnTime{});
  }

  // The run stands still until the safe sequence begins.
  void wait_for_safe() {
    const std::optional<double> begin = run_.safe_begin();
    stop_->is_followed = begin.has_value();
    answer_.needed_s = begin ? answer_.duration_s : stop_->run_s;
    if (!begin) {
      answer_.not_judged.push_back("the safe sequence from " + to_text(stop_->run_s, "s") +
                                   " on: no command shows when it began");
      return;
    }
    const double late = std::max(0.0, *begin - *run_.leader().shift_s - stop_->run_s);
    stop_->pause_s = std::max(0.0, late - run_.leader().clock.late_at(stop_->run_s));
    for (const auto& logger : run_.loggers()) {
      logger->clock.delay(stop_->run_s, late);
      for (const SeenDelay& delay : run_.safe_delays()) {
        logger->clock.delay(stop_->run_s + delay.planned, late + delay.late, delay.width);
      }
    }
  }

  // Reads the logs once more and holds every reading against what it may be.
  void judge() {
    prepare_judges();
    told_off_.resize(table_.rails().size());
    const auto watch = [&](const LogReader& reader, double time) {
      if (reader.command()) note_command(*reader.command(), time);
      if (reader.event()) {
        if (tells_off(reader.event()->word) && reader.event()->target)
          note_switched(*reader.event()->target, false, time);
      }
    };
    ReadingMerge readings(run_.files(), run_.loggers(), table_, run_.names(), job_, run_.leader_index(), watch);
    while (const std::optional<ReadingMerge::Next> next = readings.next()) judge(*next);
    for (const auto& logger : judges_) {
      for (const auto& judge : logger) {
        if (judge) judge->finish();
      }
    }
    if (commands_) take_commands(*commands_);
    collect();
    finish_checks();
  }

  // What a supply acknowledged says of its output what a reading does.
  void note_command(const LogCommand& command, double log_s) {
    const bool is_acknowledged = command.acknowledged_s || !command.sent_s;
    if (!command.output || !is_acknowledged) return;
    note_switched(command.target, *command.output, log_s);
    const std::optional<std::size_t> rail = run_.rail_of(command.target);
    const bool is_extra = !*command.output && !command.planned_s && stop_ && log_s > stop_->log_s;
    if (rail && is_extra)
      told_off_[*rail].extra_s = std::min(told_off_[*rail].extra_s, run_.leader().clock.run_of(log_s));
  }

  void note_switched(std::size_t target, bool is_on, double log_s) {
    const std::optional<std::size_t> rail = run_.rail_of(target);
    if (!rail) return;
    const RailSetup& setup = table_.rails()[*rail];
    std::set<std::size_t>& off = told_off_[*rail].targets;
    if (is_on) {
      off.erase(target);
    } else {
      off.insert(target);
    }
    const bool is_whole = run_.names()[target].of == LogNames::Of::Rail;
    const bool needs_all = setup.arrangement == Arrangement::Parallel && !is_whole;
    const bool is_off = needs_all ? off.size() >= setup.members.size() : !off.empty();
    const double run_s = run_.leader().clock.run_of(log_s);
    for (const auto& judges : judges_) {
      if (!judges.empty()) judges[*rail]->note_switched(!is_off, run_s);
    }
  }

  void prepare_judges() {
    judges_.resize(run_.loggers().size());
    for (std::size_t i = 0; i < judges_.size(); ++i) {
      Logger& logger = *run_.loggers()[i];
      if (!logger.shift_s) continue;
      const Expectations expected{run_.played(), &recordings_, &*logger.meters};
      for (std::size_t rail = 0; rail < table_.rails().size(); ++rail) {
        const double interval = std::max(logger.survey.rails[rail].interval, 1e-6);
        judges_[i].push_back(std::make_unique<RailJudge>(expected, rail, interval));
      }
      for (const auto& judge : judges_[i]) judge->knows(judges_[i]);
    }
    for (std::size_t rail = 0; rail < table_.rails().size(); ++rail) sources_.push_back(source_of(rail));
    answer_.logs.resize(judges_.size());
    if (request_.curves) curves_.resize(table_.rails().size());
    rules_.emplace(table_);
    expectations_.emplace(table_, recordings_.nominal.simulation);
  }

  // The log whose readings of a rail count where one alone can: one that has voltage and current.
  [[nodiscard]] std::size_t source_of(std::size_t rail) const {
    for (const bool both : {true, false}) {
      for (std::size_t i = 0; i < run_.loggers().size(); ++i) {
        const Logger& logger = *run_.loggers()[i];
        const SurveyedRail& seen = logger.survey.rails[rail];
        const bool has_both = seen.has(Measured::Voltage) && seen.has(Measured::Current);
        if (logger.shift_s && seen.readings > 0 && (!both || has_both)) return i;
      }
    }
    return run_.leader_index();
  }

  // Around a stop nobody knows when exactly what happened, s.
  [[nodiscard]] double room_around(const Logger& logger) const {
    return std::max(2 * std::max(logger.interval(), run_.leader().interval()), 0.05);
  }

  // Nor what the outputs did once they were switched off besides the table.
  [[nodiscard]] bool is_blind(const Logger& logger, const RailReading& reading, double run_s) const {
    if (!stop_) return false;
    const double room = room_around(logger);
    const bool is_told_off =
        run_s > told_off_[reading.rail].extra_s - room && !is_cut_off(run_, *stop_, table_.rails()[reading.rail].rail);
    if (is_told_off || run_s > run_.leader().clock.run_of(stop_->ends_s) - room) return true;
    return run_s > stop_->run_s - room && (!stop_->is_followed || run_s < stop_->run_s + room);
  }

  void judge(const ReadingMerge::Next& next) {
    const Logger& logger = *run_.loggers()[next.logger];
    const RailReading& reading = next.reading;
    LogSeen& seen = answer_.logs[next.logger];
    const double room = logger.room_at(next.run_s, answer_.duration_s, run_.skew_of(reading.rail));
    Stamp stamp{logger.clock.run_of(reading.earliest) - room, next.run_s + room};
    // What tripped has been off since before the log says so, and not only since `safe` began.
    const bool is_cut =
        stop_ && next.run_s > stop_->run_s && is_cut_off(run_, *stop_, table_.rails()[reading.rail].rail);
    if (is_cut) stamp.to += stop_->pause_s + room_around(logger);
    RailJudge& judge = *judges_[next.logger][reading.rail];
    if (tells_end()) judge.note_end(reading, next.run_s, logger.clock.run_of(reading.earliest));
    if (request_.curves) draw(next);
    // Until its first row is acknowledged a run has not begun.
    const bool is_before = run_.leader().has_commands() ? next.run_s <= 0 : stamp.to < 0;
    if (is_before) {
      ++seen.before_run;
    } else if (stamp.from > answer_.duration_s) {
      ++seen.after_run;
      judge.note_afterwards(reading);
    } else if (!is_blind(logger, reading, next.run_s) && !(is_cut && stamp.to > answer_.duration_s)) {
      judge.take(reading, next.run_s, stamp);
      if (next.logger != sources_[reading.rail]) return;
      const RailPoint point = judge.point_of(reading);
      if (point.known) rules_->take(reading.rail, next.run_s, point);
      expectations_->take(reading.rail, next.run_s, point, reading.mode);
    }
  }

  // In the middle of the time that it is the mean of.
  void draw(const ReadingMerge::Next& next) {
    const RailReading& reading = next.reading;
    const RailMeter& meter = run_.loggers()[next.logger]->meters->of(reading.rail, Measured::Voltage, reading.volts_by);
    curves_[reading.rail].take(reading, next.run_s - meter.lag(), sign_of(reading.rail));
  }

  [[nodiscard]] double sign_of(std::size_t rail) const {
    return table_.profile()[table_.rails()[rail].rail].reversed ? -1 : 1;
  }

  void take_commands(const CommandCheck& commands) {
    if (commands.is_broken_off()) answer_.broken_off_s = run_.leader().clock.run_of(run_.leader().survey.last);
    answer_.commands = commands.compared();
    answer_.commands_not_compared = commands.not_compared();
    answer_.differences = commands.differences();
    answer_.differences_left_out = commands.left_out();
    answer_.late_rows = commands.late_rows();
    answer_.latest_s = commands.latest();
  }

  void collect() {
    for (std::size_t rail = 0; rail < table_.rails().size(); ++rail) {
      MeasuredFigures figures = sources_[rail] < judges_.size() && !judges_[sources_[rail]].empty()
                                    ? judges_[sources_[rail]][rail]->figures()
                                    : MeasuredFigures{};
      figures.rail = table_.rails()[rail].rail;
      figures.readings = figures.single = 0;
      figures.lacks_meter = sources_[rail] < judges_.size() && !judges_[sources_[rail]].empty() &&
                            judges_[sources_[rail]][rail]->lacks_meter();
      for (std::size_t i = 0; i < judges_.size(); ++i) {
        if (!judges_[i].empty()) collect(i, rail, figures);
      }
      const RailFigures& predicted = recordings_.nominal.simulation.rails[rail];
      figures.predicted_energy_J = predicted.energy_J;
      figures.predicted_charge_C = predicted.charge_C;
      answer_.rails.push_back(figures);
    }
    drop_commanded();
    drop_consequences(answer_.excursions, run_.longest_interval());
    drop_repeats(answer_.excursions, run_.longest_interval());
    std::stable_sort(answer_.excursions.begin(), answer_.excursions.end(),
                     [](const Excursion& a, const Excursion& b) { return a.from.run_s < b.from.run_s; });
    if (recordings_.loads_left_out > 0) {
      answer_.not_judged.push_back(std::to_string(recordings_.loads_left_out) +
                                   " tolerances of the load beyond the first " + std::to_string(kMostLoadValues));
    }
    if (const std::optional<double> from = recordings_.left_out_from()) {
      answer_.not_judged.push_back("the run after " + to_text(*from, "s") + ": its prediction is too long to keep");
    }
    for (const MeasuredCurve& curve : curves_) answer_.curves.push_back(curve.points());
  }

  // What was commanded otherwise and cannot be predicted is told with the command: the rail does not do what the table
  // has, from there on.
  void drop_commanded() {
    for (const CommandDifference& one : answer_.differences) {
      if (one.segment != kSafeSegment && commands_->is_followed(one.channel)) continue;
      const std::optional<std::size_t> target = run_.names().find_channel(one.channel);
      const std::optional<std::size_t> rail = target ? run_.rail_of(*target) : std::nullopt;
      if (!rail) continue;
      const RailId id = table_.rails()[*rail].rail;
      const double from = run_.leader().clock.run_of(one.log_s) - 2 * run_.longest_interval();
      const std::size_t dropped = std::erase_if(answer_.excursions, [&](const Excursion& excursion) {
        return excursion.rail == id && excursion.cause != Cause::Tripped && excursion.to.run_s >= from;
      });
      if (dropped > 0) {
        answer_.unfollowed = "rail `" + table_.profile()[id].name + "` from " + time_text(std::max(0.0, from)) + " on";
        answer_.not_judged.push_back(answer_.unfollowed + ": its commands differ from the table");
      }
    }
  }

  // What one log says of a rail.
  void collect(std::size_t log, std::size_t rail, MeasuredFigures& figures) {
    const RailJudge& judge = *judges_[log][rail];
    const std::string& name = table_.profile()[table_.rails()[rail].rail].name;
    figures.readings += judge.figures().readings;
    figures.single += judge.figures().single;
    figures.voltage_judged = figures.voltage_judged || judge.figures().voltage_judged;
    figures.current_judged = figures.current_judged || judge.figures().current_judged;
    const std::string in_log = judges_.size() > 1 ? " in " + run_.loggers()[log]->path : "";
    for (const Measured quantity : {Measured::Voltage, Measured::Current}) {
      const ExcursionTrack& track = judge.track(quantity);
      for (Excursion excursion : track.excursions()) {
        excursion.log = log;
        answer_.excursions.push_back(std::move(excursion));
      }
      const std::string what = quantity == Measured::Voltage ? "voltage of " : "current of ";
      if (track.left_out() > 0) {
        answer_.not_judged.push_back(std::to_string(track.left_out()) + " more excursions of the " + what + name +
                                     in_log);
      }
      if (judge.lacks_meter(quantity)) {
        answer_.not_judged.push_back(what + name + in_log +
                                     ": the accuracy of its meter is not known (give `readback` in the bench, "
                                     "or an instrument in the log's description)");
      }
    }
    if (judge.floats()) {
      answer_.not_judged.push_back("voltage of " + name + in_log + " while off: nothing is known to discharge it");
    }
    if (is_left_on(rail, judge)) answer_.left_on.push_back(table_.rails()[rail].rail);
  }

  // Whether commands or a stop tell from when on an output is as it stays.
  [[nodiscard]] bool tells_end() const { return stop_ || run_.leader().has_commands(); }

  // Whether an output is on at the end of the log that should be off.
  [[nodiscard]] bool is_left_on(std::size_t rail, const RailJudge& judge) const {
    if (tells_end() ? !judge.is_left_on() : !judge.is_on_afterwards()) return false;
    return stop_ ? !is_on_after_safe(rail)
                 : !answer_.broken_off_s && !recordings_.nominal.simulation.rails[rail].ends_on;
  }

  [[nodiscard]] bool is_on_after_safe(std::size_t rail) const {
    if (run_.played().safe == nullptr) return false;
    RowCursor rows = run_.played().safe->rows();
    while (rows.next()) {
    }
    const RailState& state = rows.setpoints()[rail];
    return state.known.output && state.on;
  }

  void finish_checks() {
    const bool is_whole = !stop_ && missing_of(table_.profile(), run_, on_times_, answer_).empty() &&
                          std::all_of(run_.loggers().begin(), run_.loggers().end(), [](const auto& logger) {
                            return !logger->survey.ends_at && std::isinf(logger->judged_to);
                          });
    answer_.rules = rules_->finish(answer_.duration_s, is_whole, answer_.rails);
    for (const MeasuredResult& rule : answer_.rules) tell_unknown(finding::RuleNotObserved, rule);
    const double error = run_.leader().shift_uncertainty_s + run_.leader().interval();
    answer_.expectations = expectations_->finish(answer_.rails, error, seen_trips(), is_whole);
    for (const MeasuredResult& expectation : answer_.expectations) {
      tell_unknown(finding::ExpectationNotObserved, expectation);
    }
  }

  void tell_unknown(const FindingKind<finding::Text, finding::Text>& kind, const MeasuredResult& result) {
    if (result.result == Observed::NotObserved) findings_.report(kind, result.span, result.text, result.why);
  }

  [[nodiscard]] SeenTrips seen_trips() const {
    SeenTrips trips;
    trips.rails.resize(table_.rails().size());
    for (std::size_t i = 0; i < judges_.size(); ++i) {
      if (judges_[i].empty()) continue;
      const Survey& survey = run_.loggers()[i]->survey;
      trips.is_told =
          trips.is_told || !survey.events.empty() ||
          std::all_of(judges_[i].begin(), judges_[i].end(), [](const auto& judge) { return judge->tells_output(); });
      for (std::size_t rail = 0; rail < trips.rails.size(); ++rail) {
        if (judges_[i][rail]->lost_output()) trips.rails[rail] = true;
      }
      for (const SeenEvent& event : survey.events) {
        const std::optional<std::size_t> rail = event.target ? run_.rail_of(*event.target) : std::nullopt;
        if (tells_off(event.word) && rail) trips.rails[*rail] = true;
      }
    }
    return trips;
  }

  // What the records say against the logs and the profile, after findings.
  [[nodiscard]] std::vector<std::string> check_records() {
    const Origin origin = origin_of(result_.answer.compiled, result_.answer.predictions.load.get());
    std::vector<std::string> mismatches;
    for (const auto& logger : run_.loggers()) {
      RecordCheck checked = check_record(run_.files(), *logger, origin, findings_);
      mismatches.insert(mismatches.end(), checked.mismatches.begin(), checked.mismatches.end());
      answer_.not_judged.insert(answer_.not_judged.end(), checked.not_checked.begin(), checked.not_checked.end());
    }
    return mismatches;
  }

  void tell_logs() {
    const std::vector<std::unique_ptr<Logger>>& loggers = run_.loggers();
    answer_.logs.resize(loggers.size());
    for (std::size_t i = 0; i < loggers.size(); ++i) {
      const Logger& logger = *loggers[i];
      LogSeen& seen = answer_.logs[i];
      seen.path = logger.path;
      seen.description = logger.description;
      seen.record = logger.record;
      seen.readings = logger.survey.readings;
      seen.duplicates = logger.survey.duplicates;
      seen.interval_s = logger.interval();
      seen.shift_s = logger.shift_s;
      seen.clock_error = logger.clock_error;
      seen.day = day_of(logger);
      seen.shift_uncertainty_s = logger.shift_uncertainty_s;
    }
    const Logger& leader = run_.leader();
    answer_.leader = run_.leader_index();
    answer_.from_commands = leader.has_commands();
    answer_.edges_matched = leader.edges_matched;
    answer_.edges_planned = leader.edges_planned;
    answer_.segments = run_.segments();
    answer_.planned_s = run_.duration();
    for (const SeenEvent& event : leader.survey.events) {
      if (event.word == "end" && leader.shift_s) answer_.measured_s = event.line.time - *leader.shift_s;
    }
    if (stop_ && !stop_->tripped) answer_.stopped = stop_->words;
    answer_.not_judged.insert(answer_.not_judged.end(), run_.cut_off().begin(), run_.cut_off().end());
  }

  const Request& request_;
  const Job& job_;
  Evaluated& result_;
  FindingSink& findings_;
  LocatedRun run_;
  const Table& table_;
  Recordings recordings_;
  std::vector<OnTime> on_times_;            // by rail
  std::unique_ptr<CommandCheck> commands_;  // none: the log has no commands
  std::optional<Stop> stop_;
  struct ToldOff {
    std::set<std::size_t> targets;                             // of the log's names, that are off
    double extra_s = std::numeric_limits<double>::infinity();  // of the run: by a command that is of no row
  };
  std::vector<ToldOff> told_off_;                                // by rail
  std::vector<std::vector<std::unique_ptr<RailJudge>>> judges_;  // by log and rail; empty: the run is not in that log
  std::vector<std::size_t> sources_;                             // by rail, the log that rules and figures are of
  std::optional<RuleCheck> rules_;
  std::optional<ExpectationCheck> expectations_;
  std::vector<MeasuredCurve> curves_;  // by rail
  AsRun answer_;
};

// Of what was compiled and has no errors so far.
void evaluate_compiled(Files& files, const Request& request, const Job& job, Evaluated& result) {
  FindingSink& findings = result.answer.findings;
  if (result.answer.compiled.run() == nullptr || findings.has_errors()) return;
  if (result.answer.predictions.load == nullptr) {
    findings.report(finding::NoLoad, Span{result.answer.compiled.files().front().text->id(), 0, 0})
        .hint("write `load \"FILE.load.yaml\"` or give one with --load FILE");
    return;
  }
  static_cast<void>(Evaluator(files, request, job, result).evaluate());
}

}  // namespace

Evaluated evaluate(Files& files, const std::string& profile, const CompileOptions& options, const Request& request,
                   const Job& job) {
  Evaluated result;
  result.answer.path = profile;
  FindingSink& findings = result.answer.findings;
  result.answer.compiled = compile(files, profile, options, findings, job);
  result.answer.predictions.load = read_load(result.answer.compiled, files, findings);
  evaluate_compiled(files, request, job, result);
  return result;
}

Evaluated evaluate(Files& files, const Answer& reviewed, const Request& request, const Job& job) {
  Evaluated result;
  result.answer.path = reviewed.path;
  result.answer.compiled = reviewed.compiled;
  result.answer.predictions.load = reviewed.predictions.load;
  result.answer.findings.texts().add_all(reviewed.findings.texts());
  evaluate_compiled(files, request, job, result);
  return result;
}

}  // namespace rampart::as_run
