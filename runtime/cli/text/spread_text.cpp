#include "runtime/cli/text/spread_text.h"

#include <algorithm>
#include <cmath>

#include "lang/values/short_text.h"
#include "runtime/answer/margin_words.h"
#include "runtime/cli/text/text_table.h"

namespace rampart::cli {
namespace {

using spread::CornerReading;
using spread::Corners;
using spread::Reading;
using spread::Sample;
using spread::SampleReading;
using spread::Share;
using spread::Subject;

// Less is what calculating leaves behind.
constexpr double kSmallestShown = 1e-9;

std::string value_text(double value, const Reading& reading) {
  if (std::isnan(value)) return "";
  const double told = std::abs(value) < kSmallestShown ? 0.0 : value;
  return reading.subject == Subject::Figure ? short_text(told, reading.unit) : short_text_down(told, reading.unit);
}

// "2+ 5-": these tolerances at their high or low end, the others make no difference.
std::string corner_text(const Positions& at) {
  std::string text;
  for (std::size_t i = 0; i < at.size(); ++i) {
    if (at[i] == 0) continue;
    if (!text.empty()) text += " ";
    text += std::to_string(i + 1) + (at[i] < 0 ? "-" : "+");
  }
  return text.empty() ? "any" : text;
}

// With two digits of what is missing to nothing or to all: no share of a sample is sure.
std::string percent(double share) {
  const double rest = 100 * std::min(share, 1 - share);
  const double digits = rest > 0 ? std::clamp(1 - std::floor(std::log10(rest)), 2.0, 9.0) : 2.0;
  const double scale = std::pow(10.0, digits);
  return to_text(std::round(100 * share * scale) / scale, "%");
}

class SpreadText {
 public:
  explicit SpreadText(const Answer& answer)
      : answer_(answer), profile_(*answer.compiled.profile()), readings_(answer.predictions.varied->readings) {}

  std::string summary() {
    if (answer_.predictions.varied->tolerances.empty()) {
      return "no tolerances: give the load some, as in `resistance: 24 Ohm +- 5 %`, and the bench an accuracy\n";
    }
    if (answer_.predictions.corners) {
      const Corners& corners = *answer_.predictions.corners;
      text_ += "corners: " + std::string(corners.all ? "all " : "a sample of ") + std::to_string(corners.corners) +
               ", " + (corners.failing == 0 ? "none" : std::to_string(corners.failing)) + " of them with errors\n";
    }
    if (answer_.predictions.sample) {
      const Sample& sample = *answer_.predictions.sample;
      text_ += "sample of " + std::to_string(sample.options.count) + " runs, seed " +
               std::to_string(sample.options.seed) + ": " + share_text(sample.failing) + " with errors\n";
    }
    return text_;
  }

  std::string tables() {
    if (answer_.predictions.varied->tolerances.empty()) return text_;
    write_tolerances();
    if (answer_.predictions.corners) write_corners(*answer_.predictions.corners);
    if (answer_.predictions.sample) write_sample(*answer_.predictions.sample);
    return text_;
  }

 private:
  [[nodiscard]] std::string rail_of(const Reading& reading) const { return spread::owner_of(profile_, reading); }

  void write_tolerances() {
    TextTable table({"tolerance", "no", "low", "high"});
    std::size_t number = 0;
    for (const spread::Tolerance& tolerance : answer_.predictions.varied->tolerances) {
      table.add({tolerance.name, std::to_string(++number), tolerance.low, tolerance.high});
    }
    text_ += table.text() + "\n";
  }

  void write_corners(const Corners& corners) {
    TextTable margins({"margin", "of", "nominal", "tightest", "in corner"});
    TextTable figures({"figure", "of", "nominal", "least", "in corner", "most", "in corner"});
    for (std::size_t i = 0; i < readings_.size(); ++i) {
      const Reading& reading = readings_[i];
      const CornerReading& result = corners.readings[i];
      if (!result.low) continue;
      const std::vector<std::string> low{value_text(result.low->value, reading), corner_text(result.low->at)};
      const std::string nominal = value_text(result.nominal, reading);
      if (reading.subject == Subject::Figure) {
        figures.add({reading.name, rail_of(reading), nominal, low[0], low[1], value_text(result.high->value, reading),
                     corner_text(result.high->at)});
      } else {
        margins.add({reading.name, rail_of(reading), nominal, low[0], low[1]});
      }
    }
    if (!margins.empty()) text_ += margins.text() + "\n";
    text_ += figures.text();
  }

  void write_sample(const Sample& sample) {
    TextTable trips({"trips of", "runs", "share", "95 % confidence"});
    for (std::size_t i = 0; i < sample.trips.size(); ++i) {
      const Share& share = sample.trips[i];
      trips.add({profile_.rails[i].name, std::to_string(share.runs), percent(share.share),
                 percent(share.low) + " to " + percent(share.high)});
    }
    text_ += trips.text() + "\n";
    write_spread("margin", sample, false);
    text_ += "\n";
    write_spread("figure", sample, true);
  }

  static std::string share_text(const Share& share) {
    return std::to_string(share.runs) + " (" + percent(share.share) + ", with 95 % confidence " + percent(share.low) +
           " to " + percent(share.high) + ")";
  }

  void write_spread(const std::string& what, const Sample& sample, bool figures) {
    std::vector<std::string> header{what, "of", "nominal", "least", "5 %", "median", "95 %", "most"};
    if (!figures) header.emplace_back("fails");
    TextTable table(std::move(header));
    for (std::size_t i = 0; i < readings_.size(); ++i) {
      const Reading& reading = readings_[i];
      const SampleReading& result = sample.readings[i];
      const bool is_judged = reading.subject == Subject::Rule || reading.subject == Subject::Expectation;
      if ((reading.subject == Subject::Figure) != figures || (result.spread.runs == 0 && !is_judged)) continue;
      std::vector<std::string> row{reading.name, rail_of(reading), value_text(result.nominal, reading)};
      const spread::Spread& spread = result.spread;
      for (const double value : {spread.least, spread.p5, spread.p50, spread.p95, spread.most}) {
        row.push_back(spread.runs == 0 ? "" : value_text(value, reading));
      }
      if (!figures) row.push_back(is_judged ? percent(result.failing.share) : "");
      table.add(std::move(row));
    }
    if (!table.empty()) text_ += table.text();
  }

  const Answer& answer_;
  const Profile& profile_;
  const std::vector<Reading>& readings_;
  std::string text_;
};

}  // namespace

std::string spread_summary(const Answer& answer) {
  return answer.predictions.varied ? SpreadText(answer).summary() : "";
}

std::string spread_tables(const Answer& answer) {
  return answer.predictions.varied ? SpreadText(answer).tables() : "";
}

}  // namespace rampart::cli
