#include <algorithm>
#include <array>
#include <cmath>
#include <string>

#include "lang/values/quantity.h"
#include "runtime/answer/margin_words.h"
#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

// Shares of a limit from which a cell is drawn stronger.
constexpr std::array kShades{0.02, 0.05, 0.1, 0.2, 0.5};
constexpr double kWidth = 720;
constexpr double kHeight = 400;
constexpr double kLeft = 90;
constexpr double kTop = 12;
constexpr double kRight = 20;
constexpr double kBottom = 52;
constexpr std::size_t kMostTicks = 7;

// Tenths of a point are finer than a screen.
double rounded(double value) {
  return std::round(10 * value) / 10;
}

std::string number(double value) {
  std::string text = std::to_string(std::llround(10 * value));
  const bool is_negative = text.front() == '-';
  if (is_negative) text.erase(0, 1);
  if (text.size() == 1) text.insert(0, "0");
  text.insert(text.size() - 1, ".");
  return (is_negative ? "-" : "") + text;
}

std::string class_of(const SweptTrial& cell) {
  if (!cell.holds) return "fails";
  if (!cell.left) return "shade-5";
  const auto* const at = std::upper_bound(kShades.begin(), kShades.end(), *cell.left);
  return "shade-" + std::to_string(at - kShades.begin());
}

// Where the values of an axis stand on the picture, with the edges halfway between them.
class Scale {
 public:
  Scale(const std::vector<SweptValue>& values, double from, double to) : from_(from), to_(to) {
    for (std::size_t i = 0; i <= values.size(); ++i) {
      if (i == 0) {
        edges_.push_back(values.front().value);
      } else if (i == values.size()) {
        edges_.push_back(values.back().value);
      } else {
        edges_.push_back((values[i - 1].value + values[i].value) / 2);
      }
    }
    low_ = edges_.front();
    span_ = edges_.back() - low_;
  }

  [[nodiscard]] double at(double value) const {
    const double share = span_ > 0 ? std::clamp((value - low_) / span_, 0.0, 1.0) : 0.5;
    return from_ + share * (to_ - from_);
  }
  // An edge, so that neighbours meet: of a single value the picture's own.
  [[nodiscard]] double edge(std::size_t i) const {
    if (span_ <= 0) return rounded(i == 0 ? from_ : to_);
    return rounded(at(edges_[i]));
  }

 private:
  double from_;
  double to_;
  double low_ = 0;
  double span_ = 0;
  std::vector<double> edges_;
};

class MapPicture {
 public:
  explicit MapPicture(const SweptMap& map)
      : map_(map), x_(map.across.values, kLeft, kWidth - kRight), y_(map.up.values, kHeight - kBottom, kTop) {}

  Markup draw() {
    Markup inside = verbatim(
        "<defs><pattern id=\"fails\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" "
        "patternTransform=\"rotate(45)\"><path class=\"hatch\" d=\"M0 0V6\"/></pattern></defs>");
    for (std::size_t row = 0; row < map_.rows.size(); ++row) inside += cells(row);
    for (std::size_t row = 0; row < map_.rows.size(); ++row) inside += borders(row);
    inside += axes() + present();
    const std::string size = "0 0 " + number(kWidth) + " " + number(kHeight);
    return element("svg",
                   {{"class", "map"},
                    {"viewBox", size},
                    {"role", "img"},
                    {"aria-label", "Map of " + map_.across.name + " and " + map_.up.name + ": the tightest margin"}},
                   inside);
  }

 private:
  Markup cells(std::size_t row) {
    Markup all;
    const double top = y_.edge(row + 1);
    const double bottom = y_.edge(row);
    for (std::size_t column = 0; column < map_.rows[row].cells.size(); ++column) {
      const SweptTrial& cell = map_.rows[row].cells[column];
      const double left = x_.edge(column);
      all += element("rect",
                     {{"class", class_of(cell)},
                      {"x", number(left)},
                      {"y", number(top)},
                      {"width", number(x_.edge(column + 1) - left)},
                      {"height", number(bottom - top)}},
                     element("title", text(words_of(row, cell))));
    }
    return all;
  }

  [[nodiscard]] std::string words_of(std::size_t row, const SweptTrial& cell) const {
    std::string words =
        map_.across.name + " " + cell.at.text + ", " + map_.up.name + " " + map_.up.values[row].text + ": ";
    if (!cell.holds) return words + "FAIL, " + cell.error;
    if (!cell.left) return words + "PASS";
    return words + share_text(*cell.left, 1) + " left, " + cell.tightest;
  }

  // Both ends of each interval along a row, where it fails beyond; halfway between the neighbours.
  Markup borders(std::size_t row) {
    std::string path;
    const auto add = [&](const SweptTrial& end, const std::optional<SweptTrial>& beyond) {
      if (!beyond) return;
      path += "M" + number(x_.at((end.at.value + beyond->at.value) / 2)) + " " + number(y_.edge(row)) + "V" +
              number(y_.edge(row + 1));
    };
    for (const SweptInterval& interval : map_.rows[row].intervals) {
      add(interval.low, interval.below);
      add(interval.high, interval.above);
    }
    if (path.empty()) return {};
    return element("path", {{"class", "border"}, {"d", path}}, Markup());
  }

  static Markup label(const std::string& kind, double x, double y, const std::string& words) {
    return element("text", {{"class", kind}, {"x", number(x)}, {"y", number(y)}}, text(words));
  }

  // Some values of an axis, the first and the last among them.
  template <class F>
  static void for_ticks(const std::vector<SweptValue>& values, F&& f) {
    const std::size_t most = std::min(values.size(), kMostTicks);
    for (std::size_t i = 0; i < most; ++i) f(values[most == 1 ? 0 : i * (values.size() - 1) / (most - 1)]);
  }

  Markup axes() {
    Markup all;
    for_ticks(map_.across.values, [&](const SweptValue& value) {
      all += label("across", x_.at(value.value), kHeight - kBottom + 16, value.text);
    });
    for_ticks(map_.up.values,
              [&](const SweptValue& value) { all += label("up", kLeft - 6, y_.at(value.value) + 4, value.text); });
    all += label("across name", (kLeft + kWidth - kRight) / 2, kHeight - kBottom + 38, map_.across.name);
    const double middle = (kTop + kHeight - kBottom) / 2;
    all +=
        element("text", {{"class", "across name"}, {"transform", "translate(14 " + number(middle) + ") rotate(-90)"}},
                text(map_.up.name));
    all += element("rect",
                   {{"class", "frame"},
                    {"x", number(kLeft)},
                    {"y", number(kTop)},
                    {"width", number(kWidth - kLeft - kRight)},
                    {"height", number(kHeight - kTop - kBottom)}},
                   Markup());
    return all;
  }

  Markup present() {
    const auto is_shown = [](const SweptAxis& axis) {
      return axis.values.front().value <= axis.present && axis.present <= axis.values.back().value;
    };
    if (!is_shown(map_.across) || !is_shown(map_.up)) return {};
    return element("circle",
                   {{"class", "present"},
                    {"cx", number(x_.at(map_.across.present))},
                    {"cy", number(y_.at(map_.up.present))},
                    {"r", "5"}},
                   element("title", text("present values")));
  }

  const SweptMap& map_;
  Scale x_;
  Scale y_;
};

Markup swatch(const std::string& kind, const std::string& words) {
  const Markup sample = element("svg", {{"class", "swatch"}, {"viewBox", "0 0 24 14"}, {"aria-hidden", "true"}},
                                element("rect", {{"class", kind}, {"width", "24"}, {"height", "14"}}, Markup()));
  return element("li", sample + text(" " + words));
}

Markup legend(bool has_load) {
  Markup list = swatch("fails", "FAIL");
  for (std::size_t i = 0; has_load && i < kShades.size(); ++i) {
    list += swatch("shade-" + std::to_string(i), "below " + to_text(100 * kShades[i], "%") + " left");
  }
  list += swatch("shade-5", has_load ? "more" : "PASS");
  return element("ul", {{"class", "legend"}}, list);
}

Markup broken_by(const std::optional<SweptTrial>& beyond) {
  if (!beyond) return text("end of the range");
  return text("at " + beyond->at.text + ": ") + message(beyond->error);
}

Markup left_of(const SweptTrial& trial) {
  return trial.left ? text(share_text(*trial.left, 1) + ", " + trial.tightest) : Markup();
}

Markup parameters_table(const SweepPicture& sweep) {
  HtmlTable table(
      "Range in which the profile passes, one parameter at a time",
      {"parameter", "#now", "#from", "#to", "what fails below", "what fails above", "tightest margin at an end"});
  for (const SweptParameter& parameter : sweep.parameters) {
    if (parameter.intervals.empty() && parameter.least_bad) {
      table.add_row("broken", {name(parameter.name),
                               text(parameter.present.at.text),
                               text("no value"),
                               {},
                               broken_by(parameter.least_bad),
                               {},
                               {}});
    }
    for (const SweptInterval& interval : parameter.intervals) {
      const bool low_is_tighter = interval.low.left && interval.high.left && *interval.low.left < *interval.high.left;
      table.add({name(parameter.name), text(parameter.present.at.text), text(interval.low.at.text),
                 text(interval.high.at.text), broken_by(interval.below), broken_by(interval.above),
                 left_of(low_is_tighter ? interval.low : interval.high)});
    }
  }
  return table.empty() ? Markup() : table.markup();
}

Markup rows_table(const SweptMap& map) {
  HtmlTable table("Range of " + map.across.name + " in which the profile passes, for each row of the map",
                  {"#" + map.up.name, "#from", "#to", "what fails below", "what fails above"});
  for (std::size_t row = map.rows.size(); row-- > 0;) {
    const Markup value = text(map.up.values[row].text);
    if (map.rows[row].intervals.empty()) table.add({value, text("no value"), {}, {}, {}});
    for (const SweptInterval& interval : map.rows[row].intervals) {
      table.add({value, text(interval.low.at.text), text(interval.high.at.text), broken_by(interval.below),
                 broken_by(interval.above)});
    }
  }
  return element("details", element("summary", text("The borders as a table")) + table.markup());
}

}  // namespace

Markup sweep_section(const Subject& subject) {
  if (!subject.details.sweep) return {};
  const SweepPicture& sweep = *subject.details.sweep;
  Markup inside = parameters_table(sweep);
  if (sweep.map) {
    inside +=
        element("p", text(sweep.has_load ? "Share of the tightest limit that is left. The line separates PASS from "
                                           "FAIL; the ring marks the present values."
                                         : "PASS on the setpoints only. The ring marks the present values."));
    inside += element("div", {{"class", "wide"}}, MapPicture(*sweep.map).draw()) + legend(sweep.has_load) +
              rows_table(*sweep.map);
  }
  inside += element("p", text("Plain run, without tolerances."));
  return section("sweep", "Sweep", inside);
}

}  // namespace rampart::report
