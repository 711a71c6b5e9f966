#include "runtime/predict/tight_margins.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "lang/values/short_text.h"
#include "runtime/answer/judged_margins.h"
#include "runtime/answer/margin_words.h"
#include "runtime/predict/spread/spread_findings.h"

namespace rampart {
namespace {

// Less of a limit than this is nothing: what calculating leaves where an output holds its current limit.
constexpr double kNothingLeft = 1e-9;

class Teller {
 public:
  explicit Teller(const Answer& answer) : answer_(answer), profile_(*answer.compiled.profile()) {}

  [[nodiscard]] std::vector<TightMargin> margins(const Simulation& simulation) const {
    std::vector<TightMargin> result;
    for (const Margin* margin : judged_margins(profile_, simulation, answer_.findings)) {
      TightMargin tight = told(*margin);
      // In a corner it may be exceeded for less than its delay.
      if (row_of(margin->kind).judged != MarginJudged::WhileHeld || !is_used_up(tight))
        result.push_back(std::move(tight));
    }
    // Corners may have another order.
    std::stable_sort(result.begin(), result.end(), [](const TightMargin& a, const TightMargin& b) {
      return is_tighter(a.margin, a.limit, b.margin, b.limit);
    });
    return result;
  }

  // The limits that count for a protection only after a delay, of rails that did not trip: where one was reached, in
  // the run or in a corner. `tightest` has those that are judged like others.
  [[nodiscard]] std::vector<HeadlineLine> reached(const Simulation& simulation,
                                                  const std::vector<TightMargin>& tightest) const {
    std::vector<HeadlineLine> lines;
    for (const Margin& margin : simulation.margins) {
      if (row_of(margin.kind).judged == MarginJudged::Always || never_acts(profile_, margin, answer_.findings))
        continue;
      if (simulation.rails[static_cast<std::size_t>(margin.rail)].trip || is_among(tightest, margin)) continue;
      const TightMargin tight = told(margin);
      const std::string words = margin.kind == MarginKind::CurrentLimit ? limit_reached(simulation, tight)
                                                                        : threshold_exceeded(simulation, tight);
      if (words.empty()) continue;
      const std::string when =
          tight.corner.empty() ? ", at " + to_text(margin.time_s, "s") + in_pass(margin.passes) : "";
      lines.push_back({words + when, tight.corner.empty() ? margin.statement : Span{}});
    }
    return lines;
  }

 private:
  static bool is_used_up(const TightMargin& tight) { return tight.margin <= kNothingLeft * std::abs(tight.limit); }

  static bool is_among(const std::vector<TightMargin>& tightest, const Margin& margin) {
    return std::any_of(tightest.begin(), tightest.end(),
                       [&](const TightMargin& tight) { return tight.nominal == &margin; });
  }

  // "current limit of main: reached for 176 us in total (its fuse acts after 20 ms)"; nothing where it was not reached.
  [[nodiscard]] std::string limit_reached(const Simulation& simulation, const TightMargin& tight) const {
    const RailId rail = tight.nominal->rail;
    const RailFigures& figures = simulation.rails[static_cast<std::size_t>(rail)];
    std::string text = tight.what + ": reached";
    if (figures.cc_time_s > 0) {
      text += " for " + short_text(figures.cc_time_s, "s") + " in total";
      const bool is_once = figures.longest_cc_s.value > (1 - kNothingLeft) * figures.cc_time_s;
      if (!is_once) text += ", at most " + short_text(figures.longest_cc_s.value, "s") + " at a time";
    } else if (!tight.corner.empty() && is_used_up(tight)) {
      text += " with " + tight.corner;
    } else {
      return {};
    }
    const std::optional<Fuse>& fuse = profile_[rail].protection.fuse;
    return fuse && !fuse->current ? text + " (its fuse acts after " + to_text(fuse->delay.value) + ")" : text;
  }

  // "overpower threshold of io: exceeded by 134.9 mW for up to 5 ms (it acts after 100 ms)".
  [[nodiscard]] std::string threshold_exceeded(const Simulation& simulation, const TightMargin& tight) const {
    if (!is_used_up(tight) || tight.margin >= 0) return {};
    const auto delay = std::find_if(simulation.margins.begin(), simulation.margins.end(), [&](const Margin& other) {
      return other.kind == MarginKind::OverpowerDelay && other.rail == tight.nominal->rail;
    });
    std::string text = "overpower threshold of " + owner_of(profile_, *tight.nominal) + ": exceeded by " +
                       short_text(-tight.margin, row_of(tight.kind).unit);
    if (!tight.corner.empty()) text += " with " + tight.corner;
    if (delay == simulation.margins.end()) return text;
    if (tight.corner.empty()) text += ", for up to " + short_text(delay->limit - delay->margin, "s");
    return text + " (it acts after " + short_text(delay->limit, "s") + ")";
  }

  [[nodiscard]] TightMargin told(const Margin& margin) const {
    TightMargin result;
    result.kind = margin.kind;
    result.margin = margin.margin;
    result.limit = margin.limit;
    result.nominal = &margin;
    take_corners(margin, result);
    result.what = std::string(row_of(margin.kind).words) + " of " + owner_of(profile_, margin);
    result.left = left_words(margin.kind, result.margin, result.limit);
    if (result.limit != 0) result.share = share_text(result.margin, result.limit);
    return result;
  }

  // Of the plain run alone.
  void take_corners(const Margin& margin, TightMargin& result) const {
    const bool is_plain =
        answer_.predictions.simulation && answer_.predictions.shown() == &*answer_.predictions.simulation;
    if (!answer_.predictions.corners || !is_plain) return;
    const std::vector<spread::Reading>& readings = answer_.predictions.varied->readings;
    for (std::size_t i = 0; i < readings.size(); ++i) {
      const spread::Reading& reading = readings[i];
      const bool is_it = reading.margin == margin.kind && reading.rail == margin.rail && reading.owner == margin.owner;
      const std::optional<spread::Extreme>& low = answer_.predictions.corners->readings[i].low;
      if (!is_it || !low || low->value >= margin.margin) continue;
      result.margin = low->value;
      result.corner = spread::corner_text(answer_.predictions.varied->tolerances, low->at);
    }
  }

  const Answer& answer_;
  const Profile& profile_;
};

}  // namespace

std::vector<TightMargin> tight_margins(const Answer& answer, const Simulation& simulation) {
  return Teller(answer).margins(simulation);
}

std::vector<HeadlineLine> reached_limits(const Answer& answer, const Simulation& simulation,
                                         const std::vector<TightMargin>& tightest) {
  return Teller(answer).reached(simulation, tightest);
}

}  // namespace rampart
