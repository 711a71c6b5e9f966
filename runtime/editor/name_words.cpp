#include "runtime/editor/name_words.h"

#include <algorithm>

#include "lang/values/short_text.h"
#include "runtime/answer/judged_margins.h"
#include "runtime/answer/margin_words.h"
#include "runtime/editor/hover.h"

namespace rampart::editor {
namespace {

std::string in_quotes(std::string_view name) {
  return "`" + std::string(name) + "`";
}

// The profile that answers for rails and parameters, and its bench.
const Analysis* whole_of(const View& view) {
  if (view.now != nullptr && view.now->compiled.profile() != nullptr) return view.now.get();
  return view.whole.get();
}

const Bench* bench_of(const View& view) {
  if (view.now != nullptr && view.now->compiled.bench() != nullptr) return view.now->compiled.bench();
  return view.whole != nullptr ? view.whole->compiled.bench() : nullptr;
}

template <class Value>
std::string range_text(const Range<Value>& range) {
  return to_text(range.low) + " .. " + to_text(range.high);
}

std::string limits_text(const OutputLimits& limits) {
  std::string text = range_text(limits.voltage.value) + " in steps of " + to_text(limits.voltage_resolution) + "  \n" +
                     range_text(limits.current.value) + " in steps of " + to_text(limits.current_resolution);
  if (limits.power) text += "  \nup to " + to_text(limits.power->value);
  return text;
}

std::string values_text(const Symbol& symbol) {
  std::string text;
  for (const std::string& value : symbol.values) text += (text.empty() ? "" : ", ") + value;
  return symbol.has_more_values ? text + ", …" : text;
}

std::string parameter_words(const View& view, const Symbol& symbol) {
  std::string text = "parameter " + in_quotes(symbol.name);
  if (!symbol.values.empty()) text += ": " + symbol.values.front();
  const Analysis* whole = whole_of(view);
  if (whole == nullptr || whole->compiled.profile() == nullptr) return text;
  for (const ParameterValue& one : whole->compiled.profile()->parameters) {
    if (one.name != symbol.name || !one.range) continue;
    text += ", in " + parameter_text(one.range->low, *one.range) + " .. " + parameter_text(one.range->high, *one.range);
  }
  return text;
}

std::string protection_text(const Profile& profile, const Protection& protection) {
  std::string text;
  const auto add = [&text](const std::string& part) { text += (text.empty() ? "" : ", ") + part; };
  if (protection.ceiling) add("ceiling " + to_text(protection.ceiling->value));
  if (protection.overvoltage) add("overvoltage " + to_text(protection.overvoltage->value));
  if (protection.fuse) {
    std::string fuse = "fuse";
    if (protection.fuse->current) fuse += " at " + to_text(protection.fuse->current->value);
    fuse += " after " + to_text(protection.fuse->delay.value);
    for (std::size_t i = 0; i < protection.fuse->linked.size(); ++i) {
      fuse += (i == 0 ? " linked with " : ", ") + profile[protection.fuse->linked[i]].name;
    }
    add(fuse);
  }
  if (protection.overpower) {
    std::string overpower = "overpower " + to_text(protection.overpower->power.value);
    if (protection.overpower->delay.value.count() > 0)
      overpower += " after " + to_text(protection.overpower->delay.value);
    add(overpower);
  }
  return text.empty() ? "no protection" : text;
}

// A channel, or an output that the bench names.
std::string output_words(const View& view, const Symbol& symbol) {
  std::string text = std::string(symbol_kind_name(symbol.kind)) + " " + in_quotes(symbol.path);
  const Bench* bench = bench_of(view);
  const std::optional<Output> output = bench != nullptr ? bench->find_output(symbol.path) : std::nullopt;
  if (!output) return text;
  if (const auto* channel = std::get_if<ChannelId>(&*output)) {
    if (symbol.kind == SymbolKind::Output) text += ": " + in_quotes((*bench)[*channel].name);
    return text + "  \n" + limits_text((*bench)[*channel].limits);
  }
  const Combination& combination = (*bench)[std::get<CombinationId>(*output)];
  text += combination.arrangement == Arrangement::Series ? ": series of" : ": parallel";
  for (const ChannelId member : combination.members) text += " " + in_quotes((*bench)[member].name);
  return text;
}

// What the simulation says of a rail.
std::string rail_prediction(const View& view, RailId id, const Rail& rail) {
  if (view.predicted == nullptr || !view.predicted->predictions.simulation) return {};
  const Profile* profile = view.predicted->of->compiled.profile();
  const Simulation& simulation = *view.predicted->predictions.simulation;
  const auto index = static_cast<std::size_t>(id);
  const bool is_same = profile != nullptr && index < profile->rails.size() && profile->rails[index].name == rail.name &&
                       index < simulation.rails.size();
  if (!is_same) return {};
  const RailFigures& figures = simulation.rails[index];
  std::string text = "\n\npeak " + short_text(figures.current_A.value, "A") + ", " +
                     short_text(figures.power_W.value, "W") + ", " + short_text(figures.energy_J, "J") + " total";
  if (figures.trip) {
    return text + "  \n**trips**: " + std::string(trip_cause_words(figures.trip->cause)) + " at " +
           short_text(figures.trip->time_s, "s");
  }
  for (const Margin* margin : judged_margins(*profile, simulation, view.predicted->findings)) {
    if (margin->rail != id) continue;
    const MarginRow& row = row_of(margin->kind);
    return text + "  \ntightest margin: " + std::string(row.words) + ", " +
           left_words(margin->kind, margin->margin, margin->limit) + " at " + short_text(margin->time_s, "s");
  }
  return text;
}

std::string rail_words(const View& view, const Symbol& symbol) {
  std::string text = "rail " + in_quotes(symbol.name);
  const Analysis* whole = whole_of(view);
  if (whole == nullptr || whole->compiled.profile() == nullptr) return text;
  const Profile& profile = *whole->compiled.profile();
  const Bench* bench = whole->compiled.bench();
  for (std::size_t i = 0; i < profile.rails.size(); ++i) {
    const Rail& rail = profile.rails[i];
    if (rail.name != symbol.name || bench == nullptr) continue;
    const auto* channel = std::get_if<ChannelId>(&rail.output);
    text += " on " + in_quotes(channel != nullptr ? (*bench)[*channel].name
                                                  : (*bench)[std::get<CombinationId>(rail.output)].name);
    if (rail.remote_sense) text += ", remote sense";
    if (rail.reversed) text += ", reversed";
    if (channel != nullptr) text += "  \n" + limits_text((*bench)[*channel].limits);
    text += "  \n" + protection_text(profile, rail.protection);
    text += rail_prediction(view, RailId{static_cast<std::uint32_t>(i)}, rail);
  }
  return text;
}

std::string mark_words(const View& view, const Symbol& symbol) {
  std::string text = "mark " + in_quotes(symbol.name);
  if (view.predicted == nullptr || !view.predicted->predictions.simulation) return text;
  const Simulation& simulation = *view.predicted->predictions.simulation;
  const Profile& profile = *view.predicted->of->compiled.profile();
  for (const MarkTime& mark : simulation.first_marks) {
    if (mark.mark == symbol.name) text += " at " + short_text(mark.at.seconds(), "s");
  }
  for (std::size_t i = 0; i < simulation.rails.size(); ++i) {
    for (const MarkReading& reading : simulation.rails[i].marks) {
      if (reading.mark != symbol.name) continue;
      text += "  \n" + profile.rails[i].name + ": " + short_text(reading.low_voltage_V, "V") + ", " +
              short_text(reading.high_current_A, "A");
    }
  }
  return text;
}

std::string fault_words(const View& view, const Symbol& symbol) {
  std::string text = "fault " + in_quotes(symbol.name);
  const Analysis* whole = whole_of(view);
  const Fault* fault = whole != nullptr && whole->load != nullptr ? whole->load->find_fault(symbol.name) : nullptr;
  if (fault == nullptr) return text;
  text += " of rail " + in_quotes(fault->rail);
  if (fault->mark) text += ", at mark " + in_quotes(*fault->mark);
  if (fault->after.count() != 0 || !fault->mark) text += (fault->mark ? " + " : ", at ") + to_text(fault->after);
  return text;
}

}  // namespace

std::string name_words(const View& view, const SymbolIndex& index, SymbolId id) {
  const Symbol& symbol = index[id];
  switch (symbol.kind) {
    case SymbolKind::Parameter:
      return parameter_words(view, symbol);
    case SymbolKind::Rail:
      return rail_words(view, symbol);
    case SymbolKind::Channel:
    case SymbolKind::Output:
      return output_words(view, symbol);
    case SymbolKind::Mark:
      return mark_words(view, symbol);
    case SymbolKind::Fault:
      return fault_words(view, symbol);
    default:
      break;
  }
  const std::string text = std::string(symbol_kind_name(symbol.kind)) + " " + in_quotes(symbol.path);
  return symbol.values.empty() ? text : text + ": " + values_text(symbol);
}

}  // namespace rampart::editor
