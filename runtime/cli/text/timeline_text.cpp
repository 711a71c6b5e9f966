#include "runtime/cli/text/timeline_text.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>
#include <vector>

#include "lang/values/short_text.h"

namespace rampart::cli {
namespace {

constexpr std::size_t kFewestColumns = 20;
constexpr std::size_t kMostColumns = 160;
constexpr std::size_t kLongestName = 16;
constexpr std::size_t kMarkLines = 3;
constexpr std::size_t kPeakWidth = 9;
// Down and up, as shares of the greatest voltage.
constexpr double kLow = 0.1;
constexpr double kHigh = 0.3;
// Parts of a column that are looked at to tell a ramp from ups and downs.
constexpr int kParts = 4;
constexpr auto kVoltage = static_cast<std::size_t>(WaveQuantity::LoadVoltage);

// From nothing to the greatest voltage, then what goes up and down within one column.
struct Characters {
  std::array<std::string_view, 8> levels;  // the highest leaves a gap to the line above
  std::string_view both;
  std::string_view tick;
};
constexpr Characters kBlocks{{" ", "▁", "▂", "▃", "▄", "▅", "▆", "▇"}, "▒", "▏"};
constexpr Characters kPlain{{" ", ".", ":", "-", "=", "+", "*", "#"}, "$", "|"};

std::string padded(std::string_view text, std::size_t width) {
  std::string result(text.substr(0, width));
  result.resize(width, ' ');
  return result;
}

class Drawing {
 public:
  Drawing(const Answer& answer, const Terminal& terminal)
      : answer_(answer), simulation_(*answer.predictions.shown()), characters_(terminal.utf8 ? kBlocks : kPlain) {
    for (const Rail& rail : answer.compiled.profile()->rails) {
      name_width_ = std::max(name_width_, std::min(rail.name.size(), kLongestName));
    }
    before_ = 2 + name_width_ + 2 + kPeakWidth + 1;
    columns_ = std::clamp(terminal.width > before_ ? terminal.width - before_ - 1 : 0, kFewestColumns, kMostColumns);
  }

  std::string draw() {
    for (const RailWaveform& rail : answer_.predictions.waveforms->rails) draw_rail(rail);
    draw_axis();
    draw_marks();
    return text_ + legend();
  }

 private:
  [[nodiscard]] double time_of(std::size_t column) const {
    return simulation_.duration_s * static_cast<double>(column) / static_cast<double>(columns_);
  }

  [[nodiscard]] std::size_t column_of(double time) const {
    const double share = simulation_.duration_s > 0 ? time / simulation_.duration_s : 0;
    return std::min(columns_ - 1, static_cast<std::size_t>(share * static_cast<double>(columns_)));
  }

  void draw_rail(const RailWaveform& rail) {
    std::vector<std::optional<Height>> heights;
    double peak = 0;
    for (std::size_t column = 0; column < columns_; ++column) {
      heights.push_back(height(rail, time_of(column), time_of(column + 1)));
      if (heights.back()) peak = std::max(peak, heights.back()->high);
    }
    std::string line;
    for (std::size_t column = 0; column < columns_; ++column) {
      line += heights[column] ? column_text(rail, column, heights[column]->high, peak) : "?";
    }
    const std::string& name = answer_.compiled.profile()->rails[static_cast<std::size_t>(rail.rail)].name;
    text_ += "  " + padded(name, name_width_) + "  " + padded(short_text(peak, "V"), kPeakWidth) + " " + line + "\n";
    draw_states(rail);
  }

  // The least and greatest magnitude.
  struct Height {
    double low = 0;
    double high = 0;
  };
  static std::optional<Height> height(const RailWaveform& rail, double from, double to) {
    const std::optional<WaveRange> range = range_between(rail, from, to);
    if (!range) return std::nullopt;
    const double low = range->low[kVoltage];
    const double high = range->high[kVoltage];
    return Height{low * high < 0 ? 0 : std::min(std::abs(low), std::abs(high)),
                  std::max(std::abs(low), std::abs(high))};
  }

  std::string column_text(const RailWaveform& rail, std::size_t column, double high, double peak) {
    if (peak <= 0) return std::string(characters_.levels[0]);
    if (swings(rail, column, peak)) {
      has_both_ = true;
      return std::string(characters_.both);
    }
    const double steps = static_cast<double>(characters_.levels.size()) - 1;
    const auto level = static_cast<std::size_t>(std::lround(high / peak * steps));
    return std::string(characters_.levels[high > kLow * peak ? std::max<std::size_t>(level, 1) : 0]);
  }

  // Does the voltage go up and down, and not just one way, within the column?
  [[nodiscard]] bool swings(const RailWaveform& rail, std::size_t column, double peak) const {
    const double begin = time_of(column);
    const double part = (time_of(column + 1) - begin) / kParts;
    int mixed = 0;
    int turns = 0;
    std::optional<bool> was_up;
    for (int i = 0; i < kParts; ++i) {
      const std::optional<Height> here = height(rail, begin + i * part, begin + (i + 1) * part);
      if (!here) continue;
      if (here->low < kLow * peak && here->high > kHigh * peak) {
        ++mixed;
        continue;
      }
      const bool is_up = here->high > kHigh * peak;
      turns += was_up && *was_up != is_up;
      was_up = is_up;
    }
    return mixed > 1 || turns > 1;
  }

  // Where the rail is in constant current, and where it trips.
  void draw_states(const RailWaveform& rail) {
    std::string line(columns_, ' ');
    for (std::size_t column = 0; column < columns_; ++column) {
      if (limited_between(rail, time_of(column), time_of(column + 1))) line[column] = 'c';
    }
    const std::optional<Trip>& trip = simulation_.rails[static_cast<std::size_t>(rail.rail)].trip;
    if (trip) line[column_of(trip->time_s)] = 'x';
    if (line.find_first_not_of(' ') == std::string::npos) return;
    has_states_ = true;
    text_ += std::string(before_, ' ') + trimmed_right(line) + "\n";
  }

  static std::string trimmed_right(const std::string& line) { return line.substr(0, line.find_last_not_of(' ') + 1); }

  void draw_axis() {
    constexpr std::size_t kBetween = 20;
    std::string line;
    std::size_t used = 0;
    for (std::size_t column = 0; column + kBetween / 2 < columns_; column += kBetween) {
      const std::string label = short_text(time_of(column), "s");
      if (used > column || column + label.size() + 1 > columns_) continue;
      line += std::string(column - used, ' ') + std::string(characters_.tick) + label;
      used = column + 1 + label.size();
    }
    text_ += std::string(before_, ' ') + line + "\n";
  }

  // Names of marks where they are first reached, as far as there is room.
  void draw_marks() {
    std::array<std::string, kMarkLines> lines;
    for (const MarkTime& mark : simulation_.first_marks) {
      const std::size_t at = column_of(mark.at.seconds());
      const bool is_plain = std::all_of(mark.mark.begin(), mark.mark.end(), [](char c) { return c >= ' ' && c < 127; });
      if (!is_plain || at + mark.mark.size() + 1 > columns_) continue;
      const auto line = std::find_if(lines.begin(), lines.end(),
                                     [at](const std::string& one) { return one.empty() || one.size() < at; });
      if (line == lines.end()) continue;
      line->resize(at, ' ');
      *line += "^" + mark.mark;
    }
    for (const std::string& line : lines) {
      if (!line.empty()) text_ += std::string(before_, ' ') + line + "\n";
    }
  }

  [[nodiscard]] std::string legend() const {
    std::string text = "  voltage at the load; one column is " + short_text(time_of(1), "s") + "\n";
    if (has_both_) text += "  " + std::string(characters_.both) + " rises and falls within a column\n";
    if (has_states_) text += "  c constant current, x trip\n";
    return text;
  }

  const Answer& answer_;
  const Simulation& simulation_;
  const Characters& characters_;
  std::size_t name_width_ = 0;
  std::size_t before_ = 0;  // characters before the drawing
  std::size_t columns_ = 0;
  bool has_both_ = false;
  bool has_states_ = false;
  std::string text_;
};

}  // namespace

std::string timeline_text(const Answer& answer, const Terminal& terminal) {
  if (!answer.predictions.waveforms || answer.predictions.shown() == nullptr) return "";
  return Drawing(answer, terminal).draw();
}

}  // namespace rampart::cli
