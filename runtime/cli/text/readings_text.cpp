#include "runtime/cli/text/readings_text.h"

#include <algorithm>

#include "lang/values/short_text.h"
#include "runtime/cli/text/text_table.h"

namespace rampart::cli {
namespace {

class ReadingsText {
 public:
  ReadingsText(const Profile& profile, const Simulation& simulation)
      : profile_(profile), readings_(simulation.readings), left_out_(simulation.readings_left_out) {}

  std::string write(std::size_t most) {
    const bool has_counts = std::any_of(readings_.begin(), readings_.end(), [](const TakenReading& reading) {
      return reading.count > 1 || reading.drifting > 0;
    });
    const bool has_unsettled = std::any_of(readings_.begin(), readings_.end(),
                                           [](const TakenReading& reading) { return is_unsettled(reading); });
    std::vector<std::string> header{"reading", "at"};
    if (has_counts) header.emplace_back("times");
    for (const Rail& rail : profile_.rails) header.insert(header.end(), {rail.name, ""});
    if (has_unsettled) header.emplace_back("not settled");
    TextTable table(std::move(header));
    const std::size_t shown = std::min(most, readings_.size());
    for (std::size_t i = 0; i < shown; ++i) table.add(row_of(readings_[i], has_counts, has_unsettled));
    std::string text = table.text();
    if (shown < readings_.size()) {
      text += "  … and " + std::to_string(readings_.size() - shown) + " more; --full has them\n";
    }
    if (left_out_ > 0) text += "  … and " + std::to_string(left_out_) + " that are not kept\n";
    return text;
  }

 private:
  static bool is_unsettled(const std::optional<RailReading>& rail) { return rail && rail->unsettled; }
  static bool is_unsettled(const TakenReading& reading) {
    return std::any_of(reading.rails.begin(), reading.rails.end(), [](const auto& rail) { return is_unsettled(rail); });
  }

  [[nodiscard]] std::vector<std::string> row_of(const TakenReading& reading, bool has_counts,
                                                bool has_unsettled) const {
    std::vector<std::string> row{reading.name, to_text(reading.time_s, "s")};
    if (has_counts) {
      row.push_back(std::to_string(reading.count) +
                    (reading.drifting > 0 ? ", then " + std::to_string(reading.drifting) + " drifting" : ""));
    }
    std::string unsettled;
    for (std::size_t i = 0; i < reading.rails.size(); ++i) {
      const std::optional<RailReading>& rail = reading.rails[i];
      row.push_back(rail ? short_text(rail->voltage_V, "V") : "unknown");
      row.push_back(rail ? short_text(rail->current_A, "A") : "unknown");
      if (is_unsettled(rail)) unsettled += (unsettled.empty() ? "" : ", ") + profile_.rails[i].name;
    }
    if (has_unsettled) row.push_back(std::move(unsettled));
    return row;
  }

  const Profile& profile_;
  const std::vector<TakenReading>& readings_;
  std::int64_t left_out_;
};

}  // namespace

std::string readings_text(const Answer& answer, std::size_t most) {
  const Simulation& simulation = *answer.predictions.shown();
  if (simulation.readings.empty()) return {};
  return ReadingsText(*answer.compiled.profile(), simulation).write(most);
}

}  // namespace rampart::cli
