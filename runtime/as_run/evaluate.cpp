#include "runtime/as_run/evaluate.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>

#include "compiler/bench/readback.h"
#include "lang/files/read_text.h"
#include "lang/findings/files.h"
#include "lang/findings/logs.h"
#include "runtime/as_run/alignment.h"
#include "runtime/as_run/expectation_check.h"
#include "runtime/as_run/rail_judge.h"
#include "runtime/as_run/rule_check.h"
#include "runtime/as_run/run_clock.h"
#include "runtime/as_run/run_findings.h"
#include "runtime/as_run/survey.h"
#include "runtime/as_run/verdicts.h"
#include "runtime/load/load_file.h"

namespace rampart::as_run {
namespace {

// Observed waits that are given beforehand, for a run whose segments are to follow each other at once.
constexpr std::size_t kMostWaits = 10'000;

Nanoseconds to_whole(double seconds) {
  return Nanoseconds{std::llround(std::max(0.0, seconds) * 1e9)};
}

double seconds(Nanoseconds time) {
  return static_cast<double>(time.count()) / 1e9;
}

class Evaluator {
 public:
  Evaluator(Files& files, const Request& request, const Job& job, Evaluated& result)
      : files_(files),
        request_(request),
        job_(job),
        result_(result),
        findings_(result.answer.findings),
        table_(*result.answer.compiled.run()),
        played_{result.answer.compiled.run(), result.answer.compiled.safe(), result.answer.predictions.load.get()},
        names_(table_.profile(), table_.bench()),
        readbacks_(read_readbacks(findings_.texts(), table_.bench())) {}

  // False where the log cannot be read at all.
  bool evaluate() {
    if (!read_description()) return false;
    answer_.log = request_.log;
    answer_.description = description_;
    plan();
    if (!survey_log()) return false;
    meters_.emplace(table_, description_, readbacks_);
    if (find_run()) {
      find_trip();
      judge();
    }
    decide(table_.profile(), survey_, answer_, findings_);
    result_.as_run = std::move(answer_);
    return true;
  }

 private:
  bool read_description() {
    const std::string path = request_.description.value_or(description_path(request_.log));
    if (!request_.description) {
      std::string why;
      if (!files_.open(path, why)) return true;
    }
    const TextPtr text = read_text(files_, {path, std::nullopt}, findings_);
    if (text == nullptr) return false;
    std::optional<LogDescription> read = read_log_description(findings_.texts(), text->id(), findings_);
    if (!read) return false;
    description_ = *std::move(read);
    description_.text = text;
    return true;
  }

  // The segments of the run without their waits, and the levels at which edges are looked for.
  void plan() {
    const Recordings usual = record(played_, {}, {}, job_.quietly());
    const std::vector<Instant>& starts = usual.nominal.simulation.segment_starts;
    const bool waits = starts.size() > 1;
    const Recordings without =
        waits ? record(played_, std::vector<Nanoseconds>(kMostWaits), {}, job_.quietly()) : Recordings{};
    planned_ = waits ? without.nominal : usual.nominal;
    const Simulation& simulation = planned_.simulation;
    for (std::size_t i = 0; i < simulation.segment_starts.size(); ++i) {
      const bool is_last = i + 1 == simulation.segment_starts.size();
      PlannedSegment segment;
      segment.start_s = simulation.segment_starts[i].seconds();
      segment.length_s =
          (is_last ? simulation.duration_s : simulation.segment_starts[i + 1].seconds()) - segment.start_s;
      if (!is_last && i + 1 < starts.size()) {
        segment.usual_wait_s = std::max(0.0, starts[i + 1].since(starts[i]) - segment.length_s);
      }
      segments_.push_back(segment);
    }
    levels_ = levels_of(planned_.waveforms);
  }

  bool survey_log() {
    std::string why;
    const FileStream stream = files_.open(request_.log, why);
    if (!stream) {
      report_unreadable({request_.log, std::nullopt}, why, findings_);
      return false;
    }
    survey_ = survey(stream.get(), request_.log, description_, names_, table_, levels_, findings_);
    if (survey_.failed) report_unreadable({request_.log, std::nullopt}, "could not be read to its end", findings_);
    answer_.readings = survey_.readings;
    answer_.duplicates = survey_.duplicates;
    answer_.commands = survey_.commands;
    for (const SurveyedRail& rail : survey_.rails) answer_.interval_s = std::max(answer_.interval_s, rail.interval);
    return true;
  }

  [[nodiscard]] EdgeBlur blur() {
    EdgeBlur blur;
    blur.interval = answer_.interval_s;
    for (std::size_t i = 0; i < table_.rails().size(); ++i) {
      const RailMeter& meter = meters_->of(i, Measured::Voltage, survey_.rails[i].volts_by);
      double other = meter.blur();
      for (const ChannelId member : table_.rails()[i].members) {
        const Timing& timing = table_.bench().supply_of(member).timing;
        other = std::max(other,
                         meter.blur() + seconds(timing.on_delay.high - timing.on_delay.low) / 2 + seconds(timing.skew));
      }
      blur.other = std::max(blur.other, other);
    }
    return blur;
  }

  // Where the run begins in the log, and how long it waited. False, after a finding, where that cannot be told.
  bool find_run() {
    if (!survey_.is_log || survey_.readings == 0) return false;
    answer_.from_commands = !survey_.segments.empty();
    const bool found = answer_.from_commands ? find_by_commands() : find_by_edges();
    if (!found) return false;
    recordings_ = record(played_, waits_, {.ends = true, .loads = request_.corners}, job_);
    const Simulation& simulation = recordings_.nominal.simulation;
    answer_.duration_s = simulation.duration_s;
    for (std::size_t i = 0; i < simulation.segment_starts.size() && i < answer_.segments.size(); ++i) {
      answer_.segments[i].run_s = simulation.segment_starts[i].seconds();
    }
    if (answer_.from_commands) {
      clock_ = RunClock(*answer_.shift_s, 0);
      for (const SeenDelay& delay : survey_.delays) {
        if (delay.segment >= answer_.segments.size()) continue;
        const SegmentSeen& segment = answer_.segments[delay.segment];
        const double planned = segment.run_s + delay.planned;
        clock_.delay(planned, segment.log_s + delay.planned + delay.late - *answer_.shift_s - planned);
      }
    } else {
      clock_ = RunClock(*answer_.shift_s, answer_.clock_error);
    }
    return true;
  }

  bool find_by_commands() {
    const std::size_t count = std::min(segments_.size(), survey_.segments.size());
    answer_.shift_s = survey_.segments.front().time;
    for (std::size_t i = 0; i < count; ++i) {
      double waited = 0;
      if (i > 0) {
        double late = 0;
        for (const SeenDelay& delay : survey_.delays) {
          if (delay.segment + 1 == i) late = delay.late;
        }
        waited = survey_.segments[i].time - survey_.segments[i - 1].time - late - segments_[i - 1].length_s;
        waits_.push_back(to_whole(waited));
      }
      answer_.segments.push_back({0, survey_.segments[i].time, true, std::max(0.0, waited)});
    }
    return true;
  }

  bool find_by_edges() {
    std::vector<Edge> planned = edges_of(planned_.waveforms, levels_);
    for (Edge& edge : planned) {
      edge.time += meters_->of(edge.rail, Measured::Voltage, survey_.rails[edge.rail].volts_by).lag();
    }
    std::erase_if(planned, [&](const Edge& edge) { return !survey_.rails[edge.rail].has_volts; });
    for (PlannedSegment& segment : segments_) segment.longest_wait_s = survey_.last - survey_.first;
    const EdgeBlur edge_blur = blur();
    const AlignmentResult found =
        align(planned, survey_.edges, segments_, edge_blur, survey_.first, survey_.last, request_.shift_s);
    if (!found.alignment) {
      report_unaligned(request_.log, found.unaligned, survey_, planned_.simulation.duration_s, findings_);
      return false;
    }
    const Alignment& alignment = *found.alignment;
    answer_.shift_s = alignment.starts.front().log_s;
    answer_.clock_error = alignment.clock_error;
    answer_.shift_uncertainty_s = alignment.uncertainty_s;
    clock_uncertainty_ = alignment.clock_uncertainty;
    answer_.edges_matched = alignment.matched;
    answer_.edges_planned = alignment.matched + alignment.missed;
    const double rate = 1 + alignment.clock_error;
    for (std::size_t i = 0; i < segments_.size(); ++i) {
      double waited = 0;
      if (i > 0) {
        waited = (alignment.starts[i].log_s - alignment.starts[i - 1].log_s) / rate - segments_[i - 1].length_s;
        waits_.push_back(to_whole(waited));
      }
      answer_.segments.push_back({0, alignment.starts[i].log_s, alignment.starts[i].observed, std::max(0.0, waited)});
    }
    return find_jump(edge_blur);
  }

  // Whether the log's clock was put ahead within the run: then its edges fit on either side of the gap, not on both.
  bool find_jump(const EdgeBlur& edge_blur) {
    constexpr double kLeastJump = 60;  // s
    for (const SurveyedRail& rail : survey_.rails) {
      for (const SeenGap& gap : rail.gaps) {
        const double length = gap.to - gap.from - rail.interval;
        if (length < kLeastJump || !is_jump(gap, length, edge_blur)) continue;
        findings_.report(finding::LogJump, place_of_line(request_.log, gap.line, findings_), to_text(length, "s"))
            .hint("a clock that is put ahead by an hour: log in UTC, or write the offset with each time");
        answer_.not_judged.push_back("a log whose clock jumps: nothing after " + to_text(gap.from, "s"));
        judged_to_ = std::min(judged_to_, gap.from);
        answer_.segments.front().observed = false;
        return true;
      }
    }
    return true;
  }

  [[nodiscard]] bool is_jump(const SeenGap& gap, double length, const EdgeBlur& edge_blur) {
    const double tolerance = 3 * edge_blur.interval + 2 * edge_blur.other + 0.05;
    const auto count = [&](bool after, double moved) {
      std::size_t found = 0;
      for (const Edge& planned : edges_of(planned_.waveforms, levels_)) {
        const double expected = *answer_.shift_s + (1 + answer_.clock_error) * planned.time;
        found +=
            static_cast<std::size_t>(std::any_of(survey_.edges.begin(), survey_.edges.end(), [&](const Edge& edge) {
              return edge.rail == planned.rail && edge.level == planned.level && edge.rising == planned.rising &&
                     (edge.time >= gap.to) == after && std::abs(edge.time + moved - expected) < tolerance;
            }));
      }
      return found;
    };
    return segments_.size() == 1 && (count(true, -length) > count(true, 0) || count(false, length) > count(false, 0));
  }

  // The first trip that the log tells of and nobody predicted: what comes after it is another run.
  void find_trip() {
    for (const SeenEvent& event : survey_.events) {
      if (event.word != "trip") continue;
      const std::optional<std::size_t> rail = event.target ? rail_of(*event.target) : std::nullopt;
      const double run_s = clock_.run_of(event.line.time);
      const std::vector<RailFigures>& predicted = recordings_.nominal.simulation.rails;
      const bool is_predicted =
          std::any_of(predicted.begin(), predicted.end(), [](const RailFigures& one) { return one.trip.has_value(); });
      if (is_predicted) continue;
      Excursion trip;
      trip.rail = table_.rails()[rail.value_or(0)].rail;
      trip.from = trip.to = trip.worst = {run_s, event.line.time, {}};
      trip.cause = Cause::Tripped;
      trip.other = event.rest.empty() ? "trip" : event.rest;
      answer_.excursions.push_back(std::move(trip));
      judged_to_ = std::min(judged_to_, event.line.time);
      answer_.not_judged.push_back("the safe sequence after the trip at " + to_text(run_s, "s"));
      return;
    }
  }

  [[nodiscard]] std::optional<std::size_t> rail_of(std::size_t target) const {
    const LogNames::Target& named = names_[target];
    if (named.of == LogNames::Of::Rail) return named.index;
    for (std::size_t i = 0; i < table_.rails().size(); ++i) {
      for (const ChannelId member : table_.rails()[i].members) {
        if (named.of == LogNames::Of::Channel && static_cast<std::size_t>(member) == named.index) return i;
      }
    }
    return std::nullopt;
  }

  // Reads the log once more and holds every reading against what it may be.
  void judge() {
    const Expectations expected{played_, &recordings_, &*meters_};
    for (std::size_t i = 0; i < table_.rails().size(); ++i) {
      judges_.push_back(std::make_unique<RailJudge>(expected, i, std::max(survey_.rails[i].interval, 1e-6)));
    }
    for (const auto& judge : judges_) judge->knows(judges_);
    rules_.emplace(table_);
    expectations_.emplace(table_, recordings_.nominal.simulation);
    std::string why;
    const FileStream stream = files_.open(request_.log, why);
    LogReader reader(stream.get(), request_.log, description_, names_, nullptr);
    if (!stream || !reader.open()) return;
    RailReadings readings(table_, names_);
    std::vector<std::optional<double>> last(table_.rails().size());
    std::int64_t lines = 0;
    while (reader.next()) {
      if (survey_.ends_at && reader.line() >= *survey_.ends_at) break;
      if (++lines % 100'000 == 0) job_.check();
      const double time = survey_.seconds(reader.time());
      if (time > judged_to_) break;
      for (const LogReading& one : reader.readings()) {
        const std::optional<RailReading> reading = readings.take(one, time);
        if (!reading || last[reading->rail] == time) continue;
        last[reading->rail] = time;
        judge(*reading);
      }
    }
    for (const auto& judge : judges_) judge->finish();
    collect();
    const bool is_whole =
        !survey_.ends_at && std::isinf(judged_to_) && missing_of(table_.profile(), survey_, answer_).empty();
    answer_.rules = rules_->finish(answer_.duration_s, is_whole);
    for (const MeasuredResult& rule : answer_.rules) tell_unknown(finding::RuleNotObserved, rule);
    answer_.expectations =
        expectations_->finish(answer_.rails, answer_.shift_uncertainty_s + answer_.interval_s, seen_trips(), is_whole);
    for (const MeasuredResult& expectation : answer_.expectations) {
      tell_unknown(finding::ExpectationNotObserved, expectation);
    }
  }

  void tell_unknown(const FindingKind<finding::Text, finding::Text>& kind, const MeasuredResult& result) {
    if (result.result == Observed::NotObserved) findings_.report(kind, result.span, result.text, result.why);
  }

  [[nodiscard]] SeenTrips seen_trips() const {
    SeenTrips trips;
    trips.rails.resize(judges_.size());
    trips.is_told = !survey_.events.empty() || std::all_of(judges_.begin(), judges_.end(),
                                                           [](const auto& judge) { return judge->tells_output(); });
    for (std::size_t i = 0; i < judges_.size(); ++i) trips.rails[i] = judges_[i]->lost_output();
    for (const SeenEvent& event : survey_.events) {
      const std::optional<std::size_t> rail = event.target ? rail_of(*event.target) : std::nullopt;
      if (event.word == "trip" && rail) trips.rails[*rail] = true;
    }
    return trips;
  }

  void judge(const RailReading& reading) {
    const double run_s = clock_.run_of(reading.time);
    const double room = answer_.shift_uncertainty_s + seconds(description_.time_resolution) / 2 + skew_of(reading.rail);
    const double drift = clock_uncertainty_ * std::abs(run_s - answer_.duration_s / 2);
    const Stamp stamp{clock_.run_of(reading.earliest) - room - drift, run_s + room + drift};
    if (stamp.to < 0) {
      ++answer_.before_run;
    } else if (stamp.from > answer_.duration_s) {
      ++answer_.after_run;
    } else {
      RailJudge& judge = *judges_[reading.rail];
      judge.take(reading, run_s, stamp);
      const RailPoint point = judge.point_of(reading);
      if (point.known) rules_->take(reading.rail, run_s, point);
      expectations_->take(reading.rail, run_s, point, reading.mode);
    }
  }

  [[nodiscard]] double skew_of(std::size_t rail) const {
    double skew = 0;
    for (const ChannelId member : table_.rails()[rail].members) {
      skew = std::max(skew, seconds(table_.bench().supply_of(member).timing.skew));
    }
    return skew;
  }

  void collect() {
    for (std::size_t i = 0; i < judges_.size(); ++i) {
      const RailJudge& judge = *judges_[i];
      const std::string& name = table_.profile()[table_.rails()[i].rail].name;
      answer_.rails.push_back(judge.figures());
      const RailFigures& predicted = recordings_.nominal.simulation.rails[i];
      answer_.rails.back().predicted_energy_J = predicted.energy_J;
      answer_.rails.back().predicted_charge_C = predicted.charge_C;
      for (const Measured quantity : {Measured::Voltage, Measured::Current}) {
        const ExcursionTrack& track = judge.track(quantity);
        answer_.excursions.insert(answer_.excursions.end(), track.excursions().begin(), track.excursions().end());
        const std::string what = quantity == Measured::Voltage ? "voltage of " : "current of ";
        if (track.left_out() > 0) {
          answer_.not_judged.push_back(std::to_string(track.left_out()) + " more excursions of the " + what + name);
        }
        if (judge.lacks_meter(quantity)) {
          answer_.not_judged.push_back(what + name +
                                       ": nothing says how well it was measured (`readback` in the bench, "
                                       "or an instrument in the log's description)");
        }
      }
      if (judge.floats()) answer_.not_judged.push_back("voltage of " + name + " while off: nothing discharges it");
    }
    drop_consequences(answer_.excursions, answer_.interval_s);
    std::stable_sort(answer_.excursions.begin(), answer_.excursions.end(),
                     [](const Excursion& a, const Excursion& b) { return a.from.run_s < b.from.run_s; });
    if (recordings_.loads_left_out > 0) {
      answer_.not_judged.push_back(std::to_string(recordings_.loads_left_out) +
                                   " tolerances of the load beyond the first " + std::to_string(kMostLoadValues));
    }
    if (const std::optional<double> from = recordings_.left_out_from()) {
      answer_.not_judged.push_back("what comes after " + to_text(*from, "s") + ": its prediction is too long to keep");
    }
  }

  Files& files_;
  const Request& request_;
  const Job& job_;
  Evaluated& result_;
  FindingSink& findings_;
  const Table& table_;
  Played played_;
  LogNames names_;
  std::vector<std::optional<Meter>> readbacks_;
  LogDescription description_;
  Recording planned_;
  std::vector<PlannedSegment> segments_;
  std::vector<RailLevels> levels_;
  Survey survey_;
  std::optional<Meters> meters_;
  std::vector<Nanoseconds> waits_;
  Recordings recordings_;
  RunClock clock_{0, 0};
  double clock_uncertainty_ = 0;
  double judged_to_ = std::numeric_limits<double>::infinity();
  std::vector<std::unique_ptr<RailJudge>> judges_;
  std::optional<RuleCheck> rules_;
  std::optional<ExpectationCheck> expectations_;
  AsRun answer_;
};

}  // namespace

std::string description_path(const std::string& log) {
  constexpr std::string_view kEnding = ".csv";
  const std::size_t length = log.ends_with(kEnding) ? log.size() - kEnding.size() : log.size();
  return log.substr(0, length) + ".log.yaml";
}

Evaluated evaluate(Files& files, const std::string& profile, const CompileOptions& options, const Request& request,
                   const Job& job) {
  Evaluated result;
  result.answer.path = profile;
  FindingSink& findings = result.answer.findings;
  result.answer.compiled = compile(files, profile, options, findings, job);
  result.answer.predictions.load = read_load(result.answer.compiled, files, findings);
  if (result.answer.compiled.run() == nullptr || findings.has_errors()) return result;
  if (result.answer.predictions.load == nullptr) {
    findings.report(finding::NoLoad, Span{result.answer.compiled.files().front().text->id(), 0, 0})
        .hint("write `load \"FILE.load.yaml\"` or give one with --load FILE");
    return result;
  }
  static_cast<void>(Evaluator(files, request, job, result).evaluate());
  return result;
}

}  // namespace rampart::as_run
