#include "runtime/cli/text/sweep_csv.h"

#include <charconv>
#include <string_view>

namespace rampart::cli {
namespace {

using sweep::MapRow;
using sweep::ParameterSweep;
using sweep::Sweep;
using sweep::Trial;

// With the fewest digits from which it is read back exactly.
std::string number(double value) {
  char digits[32];
  const std::to_chars_result end = std::to_chars(std::begin(digits), std::end(digits), value == 0 ? 0.0 : value);
  return {digits, end.ptr};
}

// A field after RFC 4180.
std::string quoted(const std::string& text) {
  if (text.find_first_of(",\"\n") == std::string::npos) return text;
  std::string field = "\"";
  for (const char c : text) field += c == '"' ? std::string("\"\"") : std::string(1, c);
  return field + "\"";
}

std::string rest_of(const Trial& trial) {
  std::string row = trial.holds() ? ",1," : ",0,";
  row += std::to_string(trial.errors.size()) + ",";
  if (!trial.errors.empty()) row += std::get<0>(trial.errors[trial.first]);
  if (!trial.tightest) return row + ",,,,," + number(trial.duration_s) + "," + number(trial.energy_J) + "\n";
  const sweep::TightMargin& tightest = *trial.tightest;
  return row + "," + quoted(tightest.of) + "," + number(tightest.margin) + "," + number(tightest.limit) + "," +
         tightest.unit + "," + number(trial.duration_s) + "," + number(trial.energy_J) + "\n";
}

std::string column(const std::string& name, const Dimension& dimension) {
  const std::string unit = unit_text(dimension);
  return quoted(unit.empty() ? name : name + "_" + unit);
}

constexpr std::string_view kColumns =
    ",holds,errors,first_error,tightest_of,margin,limit,margin_unit,duration_s,energy_J\n";

}  // namespace

std::string sweep_csv(const Sweep& sweep) {
  if (!sweep.map) {
    std::string text;
    text.append("parameter,value").append(kColumns);
    for (const ParameterSweep& parameter : sweep.parameters) {
      for (const Trial& trial : parameter.trials) {
        text += quoted(parameter.name) + "," + number(trial.value.value.to_double()) + rest_of(trial);
      }
    }
    return text;
  }
  const sweep::Map& map = *sweep.map;
  std::string text = column(map.across.name, map.across.step.dimension);
  text.append(",").append(column(map.upright.name, map.upright.step.dimension)).append(kColumns);
  for (const MapRow& row : map.rows) {
    for (const Trial& cell : row.cells) {
      text += number(cell.value.value.to_double()) + "," + number(row.value.value.to_double()) + rest_of(cell);
    }
  }
  return text;
}

}  // namespace rampart::cli
