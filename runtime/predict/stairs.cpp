#include "runtime/predict/stairs.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <variant>

#include "compiler/table/abilities.h"
#include "lang/values/short_text.h"

namespace rampart {
namespace {

// A table is searched for the ramp no further than this.
constexpr std::int64_t kMostItems = 1'000'000;
// A capacitor is charged when the next stair comes, if that takes so many time constants.
constexpr double kCharged = 5;
// Less than this of a count is what calculating leaves.
constexpr double kSmallCount = 1e-6;

// What a ramp in stairs does on one channel.
struct RampStairs {
  double stair_V = 0;    // the highest one that rises
  double highest_V = 0;  // where it comes to
  bool has_stairs = false;
};

// The first time that the statement plays on the channel.
std::optional<RampStairs> ramp_of(const Table& table, ChannelId channel, const Span& statement, double count_V) {
  RowCursor rows = table.rows();
  std::optional<RampStairs> ramp;
  std::int64_t last = 0;
  for (std::int64_t items = 0; items < kMostItems; ++items) {
    const std::optional<TableItem> item = rows.next();
    if (!item) break;
    const auto* row = std::get_if<Row>(&*item);
    if (row == nullptr || row->channel != channel) continue;
    if (row->statement == statement) {
      if (!ramp) ramp.emplace();
      ramp->has_stairs = ramp->has_stairs || row->is_stair;
      ramp->stair_V = std::max(ramp->stair_V, static_cast<double>(row->voltage - last) * count_V);
      ramp->highest_V = std::max(ramp->highest_V, static_cast<double>(row->voltage) * count_V);
    } else if (ramp) {
      break;
    }
    last = row->voltage;
  }
  return ramp;
}

// What a rail of resistors, capacitors and constant currents does with a jump of its voltage.
struct Response {
  double resistance_Ohm = 0;  // of wire and load right after a jump
  double series_Ohm = 0;      // of wire and capacitors
  double time_constant_s = 0;
  double capacitance_F = 0;
  double conductance_S = 0;  // at rest, of the load
  double drawn_A = 0;        // likewise, whatever the voltage
};

std::optional<Response> response_of(const RailLoad& load) {
  Response result;
  double esr_S = 0;
  bool is_stiff = false;
  for (const LoadElement& element : load.elements) {
    if (const auto* capacitor = std::get_if<CapacitorElement>(&element.what)) {
      if (capacitor->leakage) return std::nullopt;
      result.capacitance_F += capacitor->capacitance.nominal;
      is_stiff = is_stiff || capacitor->esr.nominal == 0;
      if (!is_stiff) esr_S += 1 / capacitor->esr.nominal;
    } else if (const auto* resistor = std::get_if<ResistorElement>(&element.what)) {
      result.conductance_S += 1 / resistor->resistance.nominal;
    } else if (const auto* constant = std::get_if<ConstantCurrentElement>(&element.what)) {
      result.drawn_A += constant->current.nominal;
    } else {
      return std::nullopt;
    }
  }
  if (result.capacitance_F == 0) return std::nullopt;
  const double wire = load.wire.nominal;
  result.series_Ohm = wire + (is_stiff ? 0 : 1 / esr_S);
  result.resistance_Ohm = wire + (is_stiff ? 0 : 1 / (esr_S + result.conductance_S));
  result.time_constant_s = result.series_Ohm * result.capacitance_F;
  if (result.series_Ohm == 0) return std::nullopt;
  return result;
}

// Rounded down to two digits, so that what it says is enough.
double two_digits_down(double value) {
  const double step = std::pow(10, std::floor(std::log10(value)) - 1);
  return std::floor(value / step * (1 + kSmallCount)) * step;
}

}  // namespace

std::string Stairs::words(RailId rail, const Span& statement, double most_A) const {
  const RailLoad* load = load_.find_rail(table_.profile()[rail].name);
  const RailSetup& setup = table_.rails()[static_cast<std::size_t>(rail)];
  if (load == nullptr || setup.members.size() != 1) return {};
  const Abilities abilities = abilities_of(table_, rail);
  const Channel& channel = *abilities.members.front();
  // Where the output itself takes time to move, it draws less.
  if (channel.slew || channel.output_capacitance.si.sign() > 0 || table_.profile()[rail].remote_sense) return {};
  const double count_V = channel.limits.voltage_resolution.si.to_double();
  const std::optional<RampStairs> ramp = ramp_of(table_, setup.members.front(), statement, count_V);
  const std::optional<Response> response = response_of(*load);
  if (!ramp || !ramp->has_stairs || !response) return {};
  const double step_s = 1e-9 * static_cast<double>(abilities.timing.minimum_step.count());
  const double rest_A = response->drawn_A + ramp->highest_V * response->conductance_S;
  const double stair_A = ramp->stair_V / response->resistance_Ohm;
  // The ramp itself, without stairs, would have drawn less.
  const bool is_cause = stair_A + rest_A > most_A && response->capacitance_F * ramp->stair_V / step_s + rest_A < most_A;
  if (!is_cause || response->time_constant_s * kCharged > step_s) return {};
  std::string text = "each stair of " + to_text(ramp->stair_V, "V") + " draws " +
                     short_text(ramp->stair_V / response->series_Ohm, "A") + " through the " +
                     short_text(response->series_Ohm, "Ohm") + " of wire and esr";
  if (rest_A > 0) text += ", in addition to the " + short_text(rest_A, "A") + " of the load";
  const double counts = std::floor((most_A - rest_A) * response->resistance_Ohm / count_V + kSmallCount);
  if (counts < 1) return text + "; a stair of one count, " + to_text(count_V, "V") + ", is too high already";
  return text + "; ramps up to " + to_text(two_digits_down(counts * count_V / step_s), "V/s") + " stay below " +
         to_text(most_A, "A");
}

}  // namespace rampart
