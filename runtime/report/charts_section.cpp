#include "lang/values/short_text.h"
#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

constexpr std::size_t kMaxRows = 120;  // of the table of one rail

constexpr std::size_t place_of(WaveQuantity quantity) {
  return static_cast<std::size_t>(quantity);
}

// Successive stretches in which a rail played one statement.
struct Played {
  double from = 0;
  double to = 0;
  Span statement;
  bool limited = false;
  WaveRange first;
  WaveRange last;
  WaveRange range;
};

// The table of a rail that says in words what its charts show.
class CourseTable {
 public:
  CourseTable(const Subject& subject, const RailWaveform& rail)
      : subject_(subject),
        table_("Waveforms of " + subject.profile[rail.rail].name,
               {"#from", "#to", "playing", "#setpoint", "#terminals", "#load", "#current, lowest to highest",
                "#peak power", "mode"}),
        id_(rail.rail) {
    add(rail.nodes, 0);
    flush();
  }
  [[nodiscard]] Markup markup() const {
    Markup inside = table_.markup();
    if (left_out_ > 0) inside += element("p", text("… and " + std::to_string(left_out_) + " more"));
    return inside;
  }

 private:
  void add(const std::vector<WaveNode>& nodes, double base) {
    for (const WaveNode& node : nodes) {
      if (const auto* repeat = std::get_if<WaveRepeat>(&node.what)) {
        flush();
        const double begin = base + node.begin;
        band(text("From ") + at(begin) + text(" to ") + at(begin + node.length) +
             text(": the rows below, up to the next bar, repeat " + std::to_string(repeat->count) + " times, every " +
                  to_text(repeat->period, "s")));
        add(repeat->body, begin);
        flush();
        band(text("After that:"));
      } else if (const auto* band = std::get_if<WaveBand>(&node.what)) {
        add({base + node.begin, base + node.begin + node.length, band->statement, band->limited, node.range, node.range,
             node.range});
      } else {
        const auto& stretch = std::get<WaveStretch>(node.what);
        const WaveValues& first = stretch.samples.front().values;
        const WaveValues& last = stretch.samples.back().values;
        add({base + node.begin,
             base + node.begin + node.length,
             stretch.statement,
             stretch.limited,
             {first, first},
             {last, last},
             node.range});
      }
    }
  }

  void add(const Played& played) {
    if (!open_ || open_->statement != played.statement) {
      flush();
      open_ = played;
    }
    open_->to = played.to;
    open_->limited = open_->limited || played.limited;
    open_->last = played.last;
    open_->range.include(played.range);
  }

  void flush() {
    if (!open_) return;
    const Played& played = *open_;
    // Of a band, the lowest and the highest.
    const WaveRange& all = played.range;
    const auto course = [&](WaveQuantity quantity, std::string_view unit) {
      return from_to(played.first.low[place_of(quantity)], played.last.high[place_of(quantity)], unit);
    };
    row({at(played.from), at(played.to), subject_.line_of(played.statement), course(WaveQuantity::Setpoint, "V"),
         course(WaveQuantity::TerminalVoltage, "V"), course(WaveQuantity::LoadVoltage, "V"),
         from_to(all.low[place_of(WaveQuantity::Current)], all.high[place_of(WaveQuantity::Current)], "A"),
         text(rounded(played.range.high[place_of(WaveQuantity::Power)], "W")),
         text(played.limited ? "CC at times" : "")});
    open_.reset();
  }

  static Markup from_to(double first, double last, std::string_view unit) {
    const std::string from = rounded(first, unit);
    const std::string to = rounded(last, unit);
    return text(from == to ? from : from + " to " + to);
  }

  // To what the samples are good for.
  static std::string rounded(double value, std::string_view unit) {
    return short_text(std::abs(value) < 1e-6 ? 0.0 : value, unit);
  }

  [[nodiscard]] Markup at(double time) const { return subject_.at(time, id_); }

  [[nodiscard]] bool has_room() {
    if (rows_++ < kMaxRows) return true;
    ++left_out_;
    return false;
  }
  void row(const std::vector<Markup>& cells) {
    if (has_room()) table_.add(cells);
  }
  void band(const Markup& words) {
    if (has_room()) table_.add_band(words);
  }

  const Subject& subject_;
  HtmlTable table_;
  RailId id_;
  std::optional<Played> open_;
  std::size_t rows_ = 0;
  std::size_t left_out_ = 0;
};

Markup plot(std::size_t rail, std::string_view quantity, std::string_view caption, bool measured = false) {
  const Markup place = element("div",
                               {{"class", "plot " + std::string(quantity)},
                                {"data-rail", std::to_string(rail)},
                                {"data-quantity", std::string(quantity)}},
                               {});
  const Markup key = measured ? verbatim(" <span class=\"key dots\"></span> measured") : Markup();
  return element("p", {{"class", "caption"}}, verbatim(caption) + key) + place;
}

Markup panel(const Subject& subject, std::size_t index) {
  const Rail& rail = subject.profile.rails[index];
  Markup inside = element("h3", {{"id", "rail-" + std::to_string(index)}}, text("Rail ") + name(rail.name));
  inside += element("p", {{"class", "protection"}}, text(protection_words(subject.profile, rail.protection)));
  inside += element("p", {{"class", "readout"}, {"data-rail", std::to_string(index)}}, {});
  const bool simulated = subject.simulation != nullptr;
  const bool measured = subject.as_run() != nullptr;
  inside += plot(
      index, "voltage",
      simulated ? "<b>Voltage</b> <span class=\"key line\"></span> terminals <span class=\"key dotted\"></span> load "
                  "<span class=\"key dashed\"></span> setpoint"
                : "<b>Voltage</b> <span class=\"key dashed\"></span> setpoint",
      measured);
  if (simulated) {
    inside += plot(index, "current",
                   "<b>Current</b> <span class=\"key line\"></span> terminals <span class=\"key dashed\"></span> limit "
                   "<span class=\"key hatch\"></span> constant current (CC)",
                   measured);
    inside += plot(index, "power", "<b>Power</b> <span class=\"key line\"></span> terminals", measured);
    inside += element("details", element("summary", text("Waveforms of ") + name(rail.name) + text(" as a table")) +
                                     CourseTable(subject, subject.answer.predictions.waveforms->rails[index]).markup());
  }
  return element("div", {{"class", "rail"}, {"data-rail", std::to_string(index)}}, inside);
}

// All rails over the run; with one rail its own chart says the same.
Markup overview(const Subject& subject) {
  if (subject.profile.rails.size() < 2) return {};
  const std::string_view what =
      subject.simulation != nullptr ? "Voltage of all rails, at their terminals" : "Voltage of all rails, as set";
  return element("div", {{"class", "overview"}},
                 element("h3", {{"id", "all-rails"}}, text("All rails")) +
                     element("p", {{"class", "caption"}}, element("b", text(what))) +
                     element("div", {{"class", "plot overview"}}, {}));
}

// The script shows the buttons, which do nothing without it.
constexpr std::string_view kTools =
    "<div id=\"tools\" hidden role=\"toolbar\" aria-label=\"Time shown in all charts\">"
    "<button type=\"button\" data-do=\"whole\">Whole run</button>"
    "<button type=\"button\" data-do=\"in\" aria-label=\"Zoom in\">+</button>"
    "<button type=\"button\" data-do=\"out\" aria-label=\"Zoom out\">−</button>"
    "<button type=\"button\" data-do=\"left\" aria-label=\"Earlier\">◀</button>"
    "<button type=\"button\" data-do=\"right\" aria-label=\"Later\">▶</button>"
    "<button type=\"button\" data-do=\"previous\">Previous event</button>"
    "<button type=\"button\" data-do=\"next\">Next event</button>"
    "<label><input type=\"checkbox\" id=\"fit\"> fit heights</label>"
    "<output id=\"window\" aria-live=\"polite\"></output></div>"
    "<details><summary>How to move in the charts</summary><p class=\"hint\" id=\"help\">Drag to zoom, Shift and drag "
    "to move, Ctrl and wheel to zoom at the pointer, double "
    "click for the "
    "whole run. Click a chart to see the line that was being played. Keys, once the charts are focused: + and − zoom, "
    "← and → move, "
    "Home shows the whole run, n and p go to the next and previous event, Shift with ← and → moves the cursor, Enter "
    "shows its "
    "line.</p></details>"
    "<noscript><p><strong>A script draws the charts, and scripts are off here. The tables below show the "
    "same.</strong></p></noscript>";

}  // namespace

Markup charts_section(const Subject& subject) {
  if (!subject.answer.predictions.waveforms) return {};
  Markup panels = overview(subject);
  Markup rails;
  for (std::size_t i = 0; i < subject.profile.rails.size(); ++i) rails += panel(subject, i);
  panels += element("div", rails);
  const Markup group = element("div",
                               {{"id", "panels"},
                                {"tabindex", "0"},
                                {"role", "group"},
                                {"aria-label", "Charts of all rails over one time; a table follows each"},
                                {"aria-describedby", "help"}},
                               panels);
  const std::string error = to_text(100 * kWaveError, "") + " %";
  Markup as_run;
  if (subject.as_run() != nullptr) {
    as_run = element("p", {{"class", "hint"}},
                     text("Lines are the prediction for the run as played, with the waits as long as in the log. Dots "
                          "are readings. Shaded times with a number are excursions, listed under ") +
                         element("a", {{"href", "#as-run"}}, text("As run")) + text("."));
  }
  return section(
      "charts", "Charts",
      verbatim(kTools) + as_run + group +
          element(
              "p", {{"class", "hint"}},
              text("A line is off by at most " + error +
                   " of the rail's largest value. Where many samples fall on one pixel, the area from the lowest to "
                   "the highest is filled.")));
}

}  // namespace rampart::report
