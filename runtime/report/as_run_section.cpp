#include <algorithm>

#include "lang/values/short_text.h"
#include "runtime/as_run/excursion_words.h"
#include "runtime/as_run/run_times.h"
#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

using as_run::AsRun;
using as_run::Verdict;

// More of them say no more, and all are on the command line.
constexpr std::size_t kMostRows = 200;

std::string time_text(double seconds) {
  return to_text(std::round(seconds * 1e3) / 1e3, "s");
}

Markup verdict(std::string_view what, Verdict verdict, const std::string& reason) {
  const bool passes = verdict == Verdict::Pass;
  const std::string sign = passes ? "✓ " : verdict == Verdict::Fail ? "✗ " : "? ";
  return element("p", {{"class", passes ? "verdict good" : "verdict bad"}},
                 element("span", {{"aria-hidden", "true"}, {"class", "sign"}}, text(sign)) + text(what) + text(": ") +
                     element("strong", text(as_run::verdict_word(verdict))) + text(", ") + message(reason));
}

// Times of the run as the charts have them.
Markup at(const Subject& subject, const as_run::Place& place, RailId rail, double width = 0) {
  return subject.at(std::round(place.run_s * 1e3) / 1e3, rail, width);
}

Markup excursions(const Subject& subject, const AsRun& answer) {
  HtmlTable table("Excursions: readings outside the expected range",
                  {"number", "rail", "consistent with", "#from", "#to", "#readings", "#worst", "#expected", "#at",
                   "playing", "#in the log at"});
  std::size_t number = 0;
  for (const as_run::Excursion& one : answer.excursions) {
    if (++number > kMostRows) break;
    const std::string_view unit = as_run::unit_of(one.quantity);
    const std::string_view what = one.quantity == as_run::Measured::Voltage ? "voltage of " : "current of ";
    const bool is_trip = one.cause == as_run::Cause::Tripped;
    table.add(
        {text("E" + std::to_string(number)), name(std::string(is_trip ? "" : what) + subject.profile[one.rail].name),
         name(as_run::cause_text(subject.profile, one)),
         at(subject, one.from, one.rail, std::max(one.to.run_s - one.from.run_s, 0.0)), at(subject, one.to, one.rail),
         is_trip ? Markup() : text(std::to_string(one.readings)),
         is_trip ? Markup() : text(short_text(one.measured, unit)),
         is_trip ? Markup() : text(short_text(one.expected.low, unit) + " to " + short_text(one.expected.high, unit)),
         is_trip ? Markup() : at(subject, one.worst, one.rail), subject.line_of(one.from.statement),
         text(log_time_text(one.from.log_s))});
  }
  if (table.empty()) return {};
  Markup more;
  if (answer.excursions.size() > kMostRows) {
    more = element("p", text("… and " + std::to_string(answer.excursions.size() - kMostRows) + " more"));
  }
  return table.markup() + more;
}

Markup commands(const Subject& subject, const AsRun& answer) {
  HtmlTable table("Commands that differ from the table",
                  {"channel", "segment", "#planned at", "#times", "what", "line", "#in the log at"});
  for (const as_run::CommandDifference& one : answer.differences) {
    table.add({name(one.channel), name(one.segment), text(to_text(one.from_s, "s")), text(std::to_string(one.count)),
               message(one.text), subject.line_of(one.statement), text(log_time_text(one.log_s))});
  }
  HtmlTable late("Late rows", {"channel", "segment", "#planned at", "#late by", "#later than the row before by", "line",
                               "#in the log at"});
  for (std::size_t i = 0; i < answer.late_rows.size() && i < kMostRows; ++i) {
    const as_run::LateRow& row = answer.late_rows[i];
    late.add({name(row.channel), name(row.segment), text(to_text(row.planned_s, "s")),
              text(short_text(row.total_s, "s")), text(short_text(row.late_s, "s")), subject.line_of(row.statement),
              text(log_time_text(row.log_s))});
  }
  return (table.empty() ? Markup() : table.markup()) + (late.empty() ? Markup() : late.markup());
}

Markup segments(const AsRun& answer) {
  if (answer.segments.size() < 2) return {};
  HtmlTable table("Segments and waits as played", {"segment", "#begins at", "#in the log", "#after a wait of"});
  for (std::size_t i = 0; i < answer.segments.size(); ++i) {
    const as_run::SegmentSeen& one = answer.segments[i];
    table.add({text(std::to_string(i + 1)), text(time_text(one.run_s)),
               text(one.observed ? log_time_text(one.log_s) : "not observed"),
               text(i == 0 ? "" : time_text(one.waited_s))});
  }
  return table.markup();
}

Markup logs(const AsRun& answer) {
  HtmlTable table(
      "Logs", {"log", "#readings", "#apart", "#the run begins at", "#+-", "#clock", "#before the run", "#after it"});
  for (const as_run::LogSeen& log : answer.logs) {
    const double ppm = std::round(log.clock_error * 1e6);
    const std::string clock = ppm == 0 ? "" : to_text(std::abs(ppm), "") + (ppm > 0 ? " ppm fast" : " ppm slow");
    table.add({name(log.path), text(std::to_string(log.readings)), text(short_text(log.interval_s, "s")),
               text(log.shift_s ? log_time_text(*log.shift_s) : "not found"),
               text(log.shift_s && log.shift_uncertainty_s > 0 ? short_text(log.shift_uncertainty_s, "s") : ""),
               text(clock), text(std::to_string(log.before_run)), text(std::to_string(log.after_run))});
  }
  return table.markup();
}

Markup results(const std::string& title, const std::vector<as_run::MeasuredResult>& all, const Subject& subject) {
  HtmlTable table(title, {"what", "result", "#margin from", "#to", "why", "line"});
  for (const as_run::MeasuredResult& one : all) {
    table.add_row(one.result == as_run::Observed::Fail ? "broken" : "",
                  {name(one.text), text(as_run::observed_word(one.result)),
                   text(one.least ? short_text(*one.least, one.unit) : ""),
                   text(one.most ? short_text(*one.most, one.unit) : ""), message(one.why), subject.line_of(one.span)});
  }
  return table.empty() ? Markup() : table.markup();
}

Markup energy(const Subject& subject, const AsRun& answer) {
  HtmlTable table("Measured energy and charge", {"rail", "#readings", "#energy", "#within", "#predicted", "#charge",
                                                 "#within", "#predicted", "#single readings outside"});
  for (const as_run::MeasuredFigures& rail : answer.rails) {
    const auto value = [&](double one, std::string_view unit) {
      return text(rail.with_power ? short_text(one, unit) : "");
    };
    const auto bound = [&](double one, std::string_view unit) {
      return rail.has_bound ? value(one, unit) : text(rail.with_power ? "not known" : "");
    };
    table.add({name(subject.profile[rail.rail].name), text(std::to_string(rail.readings)), value(rail.energy_J, "J"),
               bound(rail.energy_bound_J, "J"), value(rail.predicted_energy_J.value_or(0), "J"),
               value(rail.charge_C, "C"), bound(rail.charge_bound_C, "C"),
               value(rail.predicted_charge_C.value_or(0), "C"), text(std::to_string(rail.single))});
  }
  return table.empty() ? Markup() : table.markup();
}

// Who, when, which device, with which instruments: what the descriptions of the logs and the records of the runs say.
Markup who(const AsRun& answer) {
  HtmlTable table("Date, operator, device and instruments", {"log", "field", "value"});
  for (const as_run::LogSeen& log : answer.logs) {
    const LogDescription& said = log.description;
    const auto add = [&](std::string_view field, const std::string& value) {
      table.add({name(log.path), text(field), value.empty() ? text("not given") : name(value)});
    };
    if (!said.title.empty()) add("log", said.title);
    add("date", log.day ? date_text(*log.day) : "");
    const std::string device = as_run::device_words(said.device);
    const RecordedRun record = log.record.value_or(RecordedRun{});
    add("operator", said.who.empty() ? record.operator_name : said.who);
    add("device", device.empty() ? record.device : device);
    add("ambient", said.ambient);
    if (said.instruments.empty() && !log.record) add("instruments", "");
    for (const LogInstrument& instrument : said.instruments) {
      const std::string words = as_run::instrument_words(instrument);
      add("instrument", instrument.name + (words.empty() ? "" : ", " + words));
    }
    if (!log.record) continue;
    for (const auto& [what, value] : as_run::record_fields(record)) {
      const bool is_told = (what == "operator" && said.who.empty()) || (what == "device" && device.empty());
      if (!is_told) add(what, value);
    }
  }
  return table.markup();
}

// What the tables do not tell already.
Markup findings(const Subject& subject) {
  Markup items;
  for (const Finding& finding : subject.evaluated->answer.findings.findings()) {
    const bool is_excursion = finding.name == "sequence-differs" || finding.name == "response-differs";
    const bool is_result = finding.name == "measured-rule" || finding.name == "measured-expectation";
    if (is_result || (is_excursion && finding.severity == Severity::Error)) continue;
    items += element("li", severity_badge(finding) + text(" ") + message(finding.message) +
                               (finding.hint.empty() ? Markup() : text("; ") + message(finding.hint)));
  }
  return items.empty() ? Markup() : element("h3", text("Findings of the logs")) + element("ul", items);
}

Markup not_judged(const AsRun& answer) {
  Markup items;
  for (const std::string& what : answer.not_judged) items += element("li", message(what));
  return items.empty() ? Markup() : element("h3", text("Not judged")) + element("ul", items);
}

}  // namespace

Markup as_run_section(const Subject& subject) {
  if (subject.evaluated == nullptr) return {};
  const AsRun* answer = subject.as_run();
  if (answer == nullptr) {
    return section("as-run", "As run", element("p", text("The logs could not be read.")) + findings(subject));
  }
  Markup inside = answer->cause.empty() ? Markup() : element("p", {{"class", "verdict bad"}}, message(answer->cause));
  inside += verdict("Sequence", answer->sequence, answer->sequence_reason) +
            verdict("Response", answer->response, answer->response_reason);
  inside += excursions(subject, *answer) + commands(subject, *answer) + findings(subject) + not_judged(*answer);
  inside += results("Rules, as measured", answer->rules, subject);
  inside += results("Expectations, as measured", answer->expectations, subject);
  inside += energy(subject, *answer) + segments(*answer) + logs(*answer) + who(*answer);
  return section("as-run", "As run", inside);
}

}  // namespace rampart::report
