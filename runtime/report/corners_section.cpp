#include <cmath>

#include "lang/values/short_text.h"
#include "runtime/answer/margin_words.h"
#include "runtime/predict/spread/spread_findings.h"
#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

// Less is what calculating leaves behind.
constexpr double kSmallestShown = 1e-9;

Markup value_text(double value, const spread::Reading& reading) {
  if (std::isnan(value)) return {};
  const double told = std::abs(value) < kSmallestShown ? 0.0 : value;
  const bool is_figure = reading.subject == spread::Subject::Figure;
  return text(is_figure ? short_text(told, reading.unit) : short_text_down(told, reading.unit));
}

Markup cause_text(const Varied& varied, const spread::Extreme& extreme) {
  const std::string words = spread::corner_text(varied.tolerances, extreme.at);
  return words.empty() ? text("any") : name(words);
}

Markup summary(const spread::Corners& corners) {
  const std::string tried = corners.all ? "All " + std::to_string(corners.corners) +
                                              " combinations of the ends of tolerances were simulated; "
                                        : std::to_string(corners.corners) +
                                              " combinations of the ends of tolerances were simulated, drawn at "
                                              "random from a fixed seed; ";
  const std::string failing = corners.failing == 0 ? "none of them has an error. A worse case may lie between two ends."
                                                   : std::to_string(corners.failing) + " of them have errors.";
  return element("p", text(tried + failing));
}

Markup tolerances_table(const Varied& varied) {
  HtmlTable table("What is varied. All other values are nominal", {"tolerance", "#low", "#high"});
  for (const spread::Tolerance& tolerance : varied.tolerances) {
    table.add({name(tolerance.name), text(tolerance.low), text(tolerance.high)});
  }
  return table.empty() ? Markup() : table.markup();
}

}  // namespace

Markup corners_section(const Subject& subject) {
  if (!subject.answer.predictions.corners) return {};
  const spread::Corners& corners = *subject.answer.predictions.corners;
  const Varied& varied = *subject.answer.predictions.varied;
  const std::vector<spread::Reading>& readings = varied.readings;
  HtmlTable margins("The tightest value of each margin, and the corner that gives it",
                    {"margin", "#nominal", "#tightest", "where"});
  HtmlTable figures("Lowest and highest value of each figure", {"figure", "#nominal", "#most", "where"});
  for (std::size_t i = 0; i < readings.size(); ++i) {
    const spread::Reading& reading = readings[i];
    const spread::CornerReading& result = corners.readings[i];
    const bool is_figure = reading.subject == spread::Subject::Figure;
    const std::optional<spread::Extreme>& extreme = is_figure ? result.high : result.low;
    if (!extreme) continue;
    Markup what = name(reading.name);
    if (reading.rail) what += text(" of ") + name(owner_of(subject.profile, reading));
    (is_figure ? figures : margins)
        .add_row(!is_figure && extreme->value < 0 ? "broken" : "",
                 {what, value_text(result.nominal, reading), value_text(extreme->value, reading),
                  cause_text(varied, *extreme)});
  }
  Markup inside = summary(corners) + tolerances_table(varied);
  if (!margins.empty()) inside += margins.markup();
  inside += figures.markup();
  return section("corners", "Corners", inside);
}

}  // namespace rampart::report
