#include "runtime/cli/text/sweep_map_text.h"

#include <algorithm>
#include <array>
#include <vector>

#include "runtime/answer/judged_margins.h"
#include "runtime/answer/margin_words.h"

namespace rampart::cli {
namespace {

using sweep::Map;
using sweep::MapAxis;
using sweep::MapRow;
using sweep::Trial;

// More are thinned out.
constexpr std::size_t kMostMapColumns = 100;
constexpr std::size_t kMostMapRows = 41;

struct Shade {
  double below;  // this share of a limit left
  char character;
};
constexpr std::array kShades = std::to_array<Shade>({{0.02, ':'}, {0.05, '-'}, {0.1, '='}, {0.2, '+'}, {0.5, '*'}});
constexpr char kMost = '#';
constexpr char kFails = '.';

char shade_of(const Trial& trial) {
  if (!trial.holds()) return kFails;
  if (!trial.tightest) return kMost;
  const double left = rampart::share_of(trial.tightest->margin, trial.tightest->limit);
  for (const Shade& shade : kShades) {
    if (left < shade.below) return shade.character;
  }
  return kMost;
}

// Some of so many at even distances, the first, the last and `kept` among them.
std::vector<std::size_t> some_of(std::size_t count, std::size_t most, std::size_t kept) {
  std::vector<std::size_t> places;
  const std::size_t taken = std::min(count, most);
  for (std::size_t i = 0; i < taken; ++i) places.push_back(taken == 1 ? 0 : i * (count - 1) / (taken - 1));
  const auto at = std::lower_bound(places.begin(), places.end(), kept);
  if (kept < count && (at == places.end() || *at != kept)) places.insert(at, kept);
  return places;
}

std::size_t place_of(const MapAxis& axis, const Quantity& value) {
  return static_cast<std::size_t>(std::find(axis.values.begin(), axis.values.end(), value) - axis.values.begin());
}

std::string value_text(const MapAxis& axis, const Quantity& value) {
  return parameter_text(value, axis.range);
}

class MapText {
 public:
  MapText(const Map& map, bool has_load)
      : map_(map),
        has_load_(has_load),
        present_column_(place_of(map.across, map.present.value)),
        present_row_(place_of(map.upright, map.present_upright)),
        columns_(some_of(map.across.values.size(), kMostMapColumns, present_column_)) {}

  std::string write() {
    text_ = "map of " + map_.across.name + " (across) and " + map_.upright.name + " (up)" +
            (has_load_ ? ": the tightest margin, as a share of its limit" : "") + "\n";
    const std::vector<std::size_t> rows = some_of(map_.rows.size(), kMostMapRows, present_row_);
    std::size_t width = 0;
    for (const std::size_t row : rows) width = std::max(width, value_text(map_.upright, map_.rows[row].value).size());
    for (auto row = rows.rbegin(); row != rows.rend(); ++row) write_row(map_.rows[*row], width, *row == present_row_);
    write_axis(width);
    write_legend();
    write_widest();
    write_effort();
    return text_;
  }

 private:
  void write_row(const MapRow& row, std::size_t width, bool is_present) {
    const std::string value = value_text(map_.upright, row.value);
    text_ += "  " + std::string(width - value.size(), ' ') + value + " |";
    for (const std::size_t column : columns_) text_ += shade_of(row.cells[column]);
    text_ += is_present ? "| <\n" : "|\n";
  }

  void write_axis(std::size_t width) {
    const std::string before(width + 4, ' ');
    const auto present = std::find(columns_.begin(), columns_.end(), present_column_);
    if (present != columns_.end()) {
      text_ += before + std::string(static_cast<std::size_t>(present - columns_.begin()), ' ') + "^\n";
    }
    const std::string low = value_text(map_.across, map_.across.values.front());
    const std::string high = value_text(map_.across, map_.across.values.back());
    const std::size_t between =
        columns_.size() > low.size() + high.size() ? columns_.size() - low.size() - high.size() : 1;
    text_ += before + low + std::string(between, ' ') + high + "\n";
  }

  void write_legend() {
    text_ += std::string("  ") + kFails + " FAIL   ";
    if (has_load_) {
      for (const Shade& shade : kShades) {
        text_ += shade.character + (" below " + to_text(100 * shade.below, "%")) + "   ";
      }
      text_ += std::string(1, kMost) + " more\n";
    } else {
      text_ += std::string(1, kMost) + " PASS\n";
    }
    const bool has_column = present_column_ < map_.across.values.size();
    const bool has_row = present_row_ < map_.upright.values.size();
    const std::string across = map_.across.name + " " + value_text(map_.across, map_.present.value);
    const std::string upright = map_.upright.name + " " + value_text(map_.upright, map_.present_upright);
    if (has_column && has_row) {
      text_ += "  < and ^ mark the present values: " + across + ", " + upright + "\n";
      return;
    }
    text_ += "  present values: " + across + (has_column ? " (^)" : " (outside the map)") + ", " + upright +
             (has_row ? " (<)" : " (outside the map)") + "\n";
  }

  // Where most is left.
  void write_widest() {
    const MapRow* best_row = nullptr;
    const Trial* best = nullptr;
    for (const MapRow& row : map_.rows) {
      for (const Trial& cell : row.cells) {
        if (!cell.holds() || !cell.tightest) continue;
        const bool is_better = best == nullptr || is_tighter(best->tightest->margin, best->tightest->limit,
                                                             cell.tightest->margin, cell.tightest->limit);
        if (!is_better) continue;
        best = &cell;
        best_row = &row;
      }
    }
    if (best == nullptr) return;
    text_ += "  largest margin: " + share_text(best->tightest->margin, best->tightest->limit) + " at " +
             map_.across.name + " " + value_text(map_.across, best->value) + " and " + map_.upright.name + " " +
             value_text(map_.upright, best_row->value) + " (" + best->tightest->of + ")\n";
  }

  void write_effort() {
    text_ += "  " + std::to_string(map_.tried) + " pairs tried in " + std::to_string(map_.across.values.size()) +
             " columns and " + std::to_string(map_.upright.values.size()) +
             " rows; the borders in each row are found to " + value_text(map_.across, map_.across.step) + "\n";
  }

  const Map& map_;
  bool has_load_;
  std::size_t present_column_;
  std::size_t present_row_;
  std::vector<std::size_t> columns_;
  std::string text_;
};

}  // namespace

std::string sweep_map_text(const Map& map, bool has_load) {
  return MapText(map, has_load).write();
}

}  // namespace rampart::cli
