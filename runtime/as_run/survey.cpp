#include "runtime/as_run/survey.h"

#include <algorithm>
#include <cmath>

#include "lang/findings/logs.h"
#include "lang/text/character.h"
#include "runtime/as_run/run_times.h"
#include "runtime/as_run/segment_zero.h"

namespace rampart::as_run {
namespace {

// Times below this count from 0, as those of a run do; later ones, such as dates, from the first.
constexpr Nanoseconds kNearZero = std::chrono::hours(24 * 366);
// Intervals that the usual one is taken from, and long ones that are kept of a rail.
constexpr std::size_t kIntervals = 4001;
constexpr std::size_t kLongest = 64;

class Surveyor {
 public:
  Surveyor(LogReader& reader, const std::string& name, const LogNames& names, const Table& table,
           const std::vector<RailLevels>& levels, FindingSink& findings)
      : reader_(reader), name_(name), findings_(findings), readings_(table, names), names_(names) {
    result_.rails.resize(table.rails().size());
    intervals_.resize(table.rails().size());
    last_of_rail_.resize(table.rails().size());
    for (std::size_t i = 0; i < table.rails().size(); ++i) watches_.emplace_back(i, levels[i]);
    last_.resize(names.count());
  }

  Survey read() {
    if (!reader_.open()) return std::move(result_);
    result_.is_log = true;
    bool is_first = true;
    Nanoseconds last{0};
    while (reader_.next()) {
      const Nanoseconds time = reader_.time();
      if (is_first) result_.origin = time > kNearZero || time < -kNearZero ? time : Nanoseconds{0};
      if (!is_first && time < last) {
        report_backwards(last, time);
        break;
      }
      if (is_first) result_.first = result_.seconds(time);
      is_first = false;
      last = time;
      now_ = result_.last = result_.seconds(time);
      take();
    }
    finish();
    return std::move(result_);
  }

 private:
  [[nodiscard]] LogLine line() const { return {reader_.line(), std::string(reader_.text()), now_}; }

  void report_backwards(Nanoseconds before, Nanoseconds now) {
    result_.ends_at = reader_.line();
    const Span place = place_of_line(name_, line(), findings_);
    auto added = findings_.report(finding::LogBackwards, place, to_text(before - now));
    constexpr Nanoseconds kHour = std::chrono::hours(1);
    if (now >= Nanoseconds{0} && now < before / 100) {
      added.hint("the logger was restarted; evaluate each part separately");
    } else if (std::chrono::abs(before - now - kHour) < std::chrono::minutes(1)) {
      added.hint("the clock was put back by an hour: log in UTC, or write the offset with each time");
    } else {
      added.hint("the rest of the log is not used");
    }
  }

  void take() {
    for (const LogReading& reading : reader_.readings()) take_reading(reading);
    if (reader_.command()) take_command(*reader_.command());
    if (reader_.event()) {
      zero_.take(*reader_.event(), now_);
      note_pace(reader_.event()->word);
    }
    if (reader_.event() && result_.events.size() < kMostEvents) {
      const LogEvent& event = *reader_.event();
      result_.events.push_back(
          {line(), std::string(event.word), visible_text(event.rest), std::string(reader_.segment()), event.target});
    }
  }

  // During a wait or a measurement `run` reads without a pause. Gaps are compared with the interval outside of these.
  void note_pace(std::string_view word) {
    if (word == "wait-begin" || word == "measure-begin") ++continuous_;
    if (word == "wait-end" || word == "measure") continuous_ = std::max(0, continuous_ - 1);
  }

  void take_reading(const LogReading& reading) {
    if (is_double(reading)) return;
    const std::optional<RailReading> complete = readings_.take(reading, now_);
    if (!complete) return;
    SurveyedRail& rail = result_.rails[complete->rail];
    if (complete->expects_volts) rail.quantities[place_of(Measured::Voltage)].is_expected = true;
    if (complete->expects_amps) rail.quantities[place_of(Measured::Current)].is_expected = true;
    if (!complete->volts && !complete->amps) return;
    ++result_.readings;
    Intervals& intervals = intervals_[complete->rail];
    if (rail.readings++ == 0) {
      rail.volts_by = complete->volts_by;
    } else {
      keep_interval(intervals.of_rail, now_ - last_of_rail_[complete->rail]);
    }
    last_of_rail_[complete->rail] = now_;
    for (const Measured quantity : {Measured::Voltage, Measured::Current}) {
      if (!(quantity == Measured::Voltage ? complete->volts : complete->amps)) continue;
      SurveyedQuantity& seen = rail.quantities[place_of(quantity)];
      if (seen.readings++ == 0) {
        seen.first = now_;
      } else {
        keep_interval(
            continuous_ > 0 ? intervals.continuous[place_of(quantity)] : intervals.of_quantity[place_of(quantity)],
            now_ - seen.last);
        keep_gap(seen.gaps, now_ - seen.last);
      }
      seen.last = now_;
    }
    if (complete->volts) watches_[complete->rail].take(now_, *complete->volts, result_.edges);
  }

  // The same target twice at one instant.
  bool is_double(const LogReading& reading) {
    Last& last = last_[reading.target];
    const bool same_time = last.known && last.time == reader_.time();
    const auto differ = [](const std::optional<double>& a, const std::optional<double>& b) {
      return a && b && *a != *b;
    };
    const auto repeats = [](const std::optional<double>& a, const std::optional<double>& b) {
      return !b || (a && *a == *b);
    };
    if (same_time && (differ(last.volts, reading.volts) || differ(last.amps, reading.amps))) {
      if (!reported_same_) {
        findings_
            .report(finding::LogSameTime, place_of_line(name_, line(), findings_), names_[reading.target].name,
                    log_time_text(now_, 6))
            .hint("the log may hold two runs, or times that were rounded too far");
      }
      reported_same_ = true;
      return true;
    }
    if (same_time && repeats(last.volts, reading.volts) && repeats(last.amps, reading.amps)) {
      if (result_.duplicates++ == 0) first_duplicate_ = line();
      return true;
    }
    last = {true, reader_.time(), reading.volts, reading.amps};
    return false;
  }

  static void keep_interval(std::vector<double>& known, double interval) {
    if (known.size() < kIntervals && interval > 0) known.push_back(interval);
  }

  void keep_gap(std::vector<SeenGap>& gaps, double length) {
    const auto shorter = [](const SeenGap& a, const SeenGap& b) { return a.to - a.from < b.to - b.from; };
    if (gaps.size() == kLongest) {
      const auto least = std::min_element(gaps.begin(), gaps.end(), shorter);
      if (least->to - least->from >= length) return;
      gaps.erase(least);
    }
    gaps.push_back({now_ - length, now_, line()});
  }

  void take_command(const LogCommand& command) {
    ++result_.commands;
    const double time = command.acknowledged_s.value_or(now_);
    if (!command.planned_s && command.output == false && result_.extra_offs.size() < kMostEvents) {
      result_.extra_offs.push_back({command.target, time});
    }
    if (!command.planned_s) return;
    const std::string segment = reader_.segment().empty() ? "1" : std::string(reader_.segment());
    if (result_.segments.empty() || result_.segments.back().name != segment) {
      if (result_.segments.size() >= kMostEvents) return;
      result_.segments.push_back({segment, zero_.of(segment, command, time)});
      last_delay_ = SeenDelay{result_.segments.size() - 1, 0, 0, 0};
    }
    SeenDelay delay{result_.segments.size() - 1, *command.planned_s, 0, 0};
    delay.late = time - delay.planned - result_.segments.back().time;
    if (command.sent_s) delay.width = std::max(0.0, time - *command.sent_s);
    take_delay(delay);
  }

  // Rows take effect in the order of the table.
  void take_delay(SeenDelay delay) {
    delay.late = std::max(delay.late, last_delay_.planned + last_delay_.late - delay.planned);
    const bool is_alike =
        std::abs(delay.late - last_delay_.late) <= kSameLate && delay.width <= last_delay_.width + kSameLate;
    if (is_alike) return;
    if (result_.delays.size() >= kMostEvents) return widen_last(delay);
    std::vector<SeenDelay>& all = result_.delays;
    const bool is_same_instant =
        !all.empty() && all.back().segment == delay.segment && all.back().planned == delay.planned;
    if (is_same_instant) delay.width = std::max(delay.width, delay.late - all.back().late + all.back().width);
    last_delay_ = delay;
    if (is_same_instant) {
      all.back() = delay;
    } else {
      all.push_back(delay);
    }
  }

  // No more are kept: the last one is as early and as late as all that come after it.
  void widen_last(const SeenDelay& delay) {
    SeenDelay& last = result_.delays.back();
    const double least = std::min(last.late - last.width, delay.late - delay.width);
    last.late = std::max(last.late, delay.late);
    last.width = last.late - least;
  }

  // The median of them.
  static double usual(std::vector<double>& known) {
    if (known.empty()) return 0;
    const auto middle = known.begin() + static_cast<std::ptrdiff_t>(known.size() / 2);
    std::nth_element(known.begin(), middle, known.end());
    return *middle;
  }

  void finish() {
    reader_.finish();
    result_.has_broken = reader_.broken_lines() > 0;
    result_.failed = reader_.failed();
    for (std::size_t i = 0; i < result_.rails.size(); ++i) {
      SurveyedRail& rail = result_.rails[i];
      rail.interval = usual(intervals_[i].of_rail);
      for (std::size_t k = 0; k < kMeasured; ++k) {
        SurveyedQuantity& seen = rail.quantities[k];
        std::vector<double>& known = intervals_[i].of_quantity[k];
        seen.interval = usual(known.empty() ? intervals_[i].continuous[k] : known);
        std::erase_if(seen.gaps,
                      [&](const SeenGap& gap) { return gap.to - gap.from <= kGapIntervals * seen.interval; });
        std::stable_sort(seen.gaps.begin(), seen.gaps.end(),
                         [](const SeenGap& a, const SeenGap& b) { return a.from < b.from; });
      }
    }
    std::stable_sort(result_.edges.begin(), result_.edges.end(),
                     [](const Edge& a, const Edge& b) { return a.time < b.time; });
    if (result_.duplicates > 0) {
      const std::string repeats = result_.duplicates == 1
                                      ? "1 reading exactly repeats"
                                      : std::to_string(result_.duplicates) + " readings exactly repeat";
      findings_.report(finding::LogDuplicates, place_of_line(name_, first_duplicate_, findings_), repeats);
    }
  }

  struct Last {
    bool known = false;
    Nanoseconds time{0};
    std::optional<double> volts;
    std::optional<double> amps;
  };

  LogReader& reader_;
  const std::string& name_;
  FindingSink& findings_;
  RailReadings readings_;
  const LogNames& names_;
  std::vector<EdgeWatch> watches_;
  struct Intervals {
    std::vector<double> of_rail;
    std::array<std::vector<double>, kMeasured> of_quantity;
    std::array<std::vector<double>, kMeasured> continuous;
  };
  std::vector<Intervals> intervals_;  // by rail
  std::vector<double> last_of_rail_;  // time of its last reading
  std::vector<Last> last_;
  LogLine first_duplicate_;
  bool reported_same_ = false;
  SegmentZero zero_;
  SeenDelay last_delay_;
  int continuous_ = 0;  // waits and measurements that have begun and not ended
  double now_ = 0;
  Survey result_;
};

}  // namespace

Survey survey(std::FILE* stream, const std::string& name, const LogDescription& description, const LogNames& names,
              const Table& table, const std::vector<RailLevels>& levels, FindingSink& findings) {
  LogReader reader(stream, name, description, names, &findings);
  return Surveyor(reader, name, names, table, levels, findings).read();
}

Span place_of_line(const std::string& name, const LogLine& line, FindingSink& findings) {
  const std::string shown = line.text.empty() ? " " : line.text;
  const FileId file = findings.texts().add(name, shown, std::max(line.number, 1U));
  return Span{file, 0, static_cast<std::uint32_t>(shown.size())};
}

}  // namespace rampart::as_run
