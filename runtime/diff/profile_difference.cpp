#include "runtime/diff/profile_difference.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "compiler/table/setup.h"
#include "lang/values/unit.h"

namespace rampart::diff {
namespace {

Tables tables_of(const Answer& answer) {
  return {*answer.compiled.run(), answer.compiled.safe()};
}

template <class Value>
std::string text_of(const std::optional<Placed<Value>>& placed) {
  return placed ? to_text(placed->value) : std::string();
}

// What each rail of a profile is called in the new one, or in its own where that has no such rail.
using RailNames = std::map<RailId, std::string>;

RailNames names_of(const Profile& profile) {
  RailNames names;
  for (std::uint32_t i = 0; i < profile.rails.size(); ++i) names[RailId{i}] = profile.rails[i].name;
  return names;
}

RailNames new_names(const Profile& before, const Profile& after, const std::vector<RailDifference>& rails) {
  RailNames names = names_of(before);
  for (const RailDifference& rail : rails) names[rail.before] = after[rail.after].name;
  return names;
}

std::string fuse_text(const RailNames& names, const std::optional<Fuse>& fuse) {
  if (!fuse) return {};
  std::string text = fuse->current ? "at " + to_text(fuse->current->value) + " " : "";
  text += "after " + to_text(fuse->delay.value);
  for (std::size_t i = 0; i < fuse->linked.size(); ++i) {
    text += (i == 0 ? " linked with " : ", ") + names.at(fuse->linked[i]);
  }
  return text;
}

std::string channels_text(const Answer& answer, RailId rail) {
  std::string text;
  for (const ChannelId id : answer.compiled.run()->rails()[static_cast<std::size_t>(rail)].members) {
    text += (text.empty() ? "" : " and ") + (*answer.compiled.bench())[id].name;
  }
  return text;
}

// What a rail is set up with, by what it is called.
std::vector<std::pair<std::string, std::string>> setup_of(const Answer& answer, RailId id, const RailNames& names) {
  const Rail& rail = (*answer.compiled.profile())[id];
  const Protection& protection = rail.protection;
  std::string overpower;
  if (protection.overpower) {
    overpower = to_text(protection.overpower->power.value) + " after " + to_text(protection.overpower->delay.value);
  }
  return {{"channel", channels_text(answer, id)},
          {"sense", rail.remote_sense ? "remote" : "local"},
          {"reversed", rail.reversed ? "yes" : "no"},
          {"ceiling", text_of(protection.ceiling)},
          {"overvoltage", text_of(protection.overvoltage)},
          {"fuse", fuse_text(names, protection.fuse)},
          {"overpower", overpower}};
}

std::vector<SetupChange> compare_setups(const Answer& before, const Answer& after,
                                        const std::vector<RailDifference>& rails) {
  std::vector<SetupChange> changes;
  const RailNames old_names = new_names(*before.compiled.profile(), *after.compiled.profile(), rails);
  const RailNames names = names_of(*after.compiled.profile());
  for (const RailDifference& rail : rails) {
    const auto old_setup = setup_of(before, rail.before, old_names);
    const auto new_setup = setup_of(after, rail.after, names);
    for (std::size_t i = 0; i < old_setup.size(); ++i) {
      if (old_setup[i].second == new_setup[i].second) continue;
      changes.push_back({(*after.compiled.profile())[rail.after].name, false, old_setup[i].first, old_setup[i].second,
                         new_setup[i].second});
    }
  }
  return changes;
}

std::string line_job(const Profile& profile, const Line& line) {
  static constexpr std::string_view kTriggers[] = {"", " when trip", " when cc", " switches off"};
  std::string text = line.is_output ? "output" : "input";
  text += kTriggers[static_cast<std::size_t>(line.trigger)];
  for (std::size_t i = 0; i < line.rails.size(); ++i) text += (i == 0 ? " " : ", ") + profile[line.rails[i]].name;
  return text;
}

// What a line is called or its rails are called is no difference.
void compare_lines(const Answer& before, const Answer& after, const TableDifference& table,
                   std::vector<SetupChange>& changes) {
  std::map<RailId, RailId> partners;
  for (const RailDifference& rail : table.rails) partners.emplace(rail.before, rail.after);
  for (const LineDifference& pair : table.lines) {
    const Line& old_line = before.compiled.profile()->lines[static_cast<std::size_t>(pair.before)];
    const Line& new_line = after.compiled.profile()->lines[static_cast<std::size_t>(pair.after)];
    const std::string old_terminal = line_name(*before.compiled.bench(), old_line);
    const std::string new_terminal = line_name(*after.compiled.bench(), new_line);
    if (old_terminal != new_terminal) changes.push_back({new_line.name, true, "terminal", old_terminal, new_terminal});
    const bool same_rails = std::equal(old_line.rails.begin(), old_line.rails.end(), new_line.rails.begin(),
                                       new_line.rails.end(), [&](RailId a, RailId b) {
                                         const auto partner = partners.find(a);
                                         return partner != partners.end() && partner->second == b;
                                       });
    if (same_rails && old_line.is_output == new_line.is_output && old_line.trigger == new_line.trigger) continue;
    changes.push_back({new_line.name, true, "role", line_job(*before.compiled.profile(), old_line),
                       line_job(*after.compiled.profile(), new_line)});
  }
}

std::map<std::string, Nanoseconds> measurements_of(const Profile& profile) {
  std::map<std::string, Nanoseconds> times;
  const auto add = [&times](const Program& program) {
    for (const Measurement* one : rampart::measurements_of(program)) times.emplace(one->name, one->over);
  };
  add(profile.run);
  if (profile.safe) add(*profile.safe);
  return times;
}

// By name.
std::vector<MeasurementChange> compare_measurements(const Profile& before, const Profile& after) {
  std::map<std::string, MeasurementChange> changes;
  for (const auto& [name, over] : measurements_of(before)) changes[name] = {name, over, {}};
  for (const auto& [name, over] : measurements_of(after)) {
    changes[name].name = name;
    changes[name].after = over;
  }
  std::vector<MeasurementChange> different;
  for (const auto& [name, change] : changes) {
    if (change.before != change.after) different.push_back(change);
  }
  return different;
}

class FigureComparison {
 public:
  FigureComparison(const Answer& before, const Answer& after) : before_(before), after_(after) {}

  std::vector<FigureChange> run(const std::vector<RailDifference>& rails) {
    compare_rules(before_.compiled.rules(), after_.compiled.rules(), "setpoints");
    const bool both = before_.predictions.simulation && after_.predictions.simulation;
    if (!both) return std::move(changes_);
    for (const RailDifference& rail : rails) compare_rail(rail);
    for (const RailDifference& rail : rails) compare_readings(rail);
    compare_rules(before_.predictions.simulation->rules, after_.predictions.simulation->rules, "simulation");
    // The table's own duration leaves its waits out.
    if (before_.compiled.run_timeline()->has_segments() || after_.compiled.run_timeline()->has_segments()) {
      add("total", "duration with waits", "s", before_.predictions.simulation->duration_s,
          after_.predictions.simulation->duration_s);
    }
    add("total", "energy", "J", before_.predictions.simulation->total_energy_J,
        after_.predictions.simulation->total_energy_J);
    add("total", "peak power", "W", before_.predictions.simulation->total_power_W.value,
        after_.predictions.simulation->total_power_W.value);
    return std::move(changes_);
  }

 private:
  void compare_rail(const RailDifference& rail) {
    const std::string& name = (*after_.compiled.profile())[rail.after].name;
    const RailFigures& a = before_.predictions.simulation->rails[static_cast<std::size_t>(rail.before)];
    const RailFigures& b = after_.predictions.simulation->rails[static_cast<std::size_t>(rail.after)];
    add(name, "energy", "J", a.energy_J, b.energy_J);
    add(name, "charge", "C", a.charge_C, b.charge_C);
    add(name, "peak current", "A", a.current_A.value, b.current_A.value);
    add(name, "peak power", "W", a.power_W.value, b.power_W.value);
    add(name, "peak voltage", "V", a.voltage_V.value, b.voltage_V.value);
    add(name, "time in CC", "s", a.cc_time_s, b.cc_time_s);
    add(name, "final voltage", "V", a.final_voltage_V, b.final_voltage_V);
    add(name, "trip at", "s", trip_time(a), trip_time(b));
    for (const Margin& margin : after_.predictions.simulation->margins) {
      if (margin.rail != rail.after) continue;
      const Margin* old = partner_of(margin, rail.before);
      if (old == nullptr) continue;
      const MarginRow& row = row_of(margin.kind);
      const std::string channel = row.owner == MarginOwner::Channel ? " of " + margin.owner : "";
      add(name, "margin of " + std::string(row.words) + channel, std::string(row.unit), without_noise(*old),
          without_noise(margin));
    }
  }

  // The first of each name.
  void compare_readings(const RailDifference& rail) {
    std::set<std::string_view> compared;
    const std::vector<TakenReading>& olds = before_.predictions.simulation->readings;
    for (const TakenReading& reading : after_.predictions.simulation->readings) {
      if (!compared.insert(reading.name).second) continue;
      const auto old =
          std::find_if(olds.begin(), olds.end(), [&](const TakenReading& one) { return one.name == reading.name; });
      if (old == olds.end()) continue;
      const std::optional<RailReading>& a = old->rails[static_cast<std::size_t>(rail.before)];
      const std::optional<RailReading>& b = reading.rails[static_cast<std::size_t>(rail.after)];
      if (!a || !b) continue;
      const std::string& name = (*after_.compiled.profile())[rail.after].name;
      add(name, "voltage of reading `" + reading.name + "`", "V", a->voltage_V, b->voltage_V);
      add(name, "current of reading `" + reading.name + "`", "A", a->current_A, b->current_A);
    }
  }

  static double without_noise(const Margin& margin) {
    return std::abs(margin.margin) < kNoMargin * std::abs(margin.limit) ? 0.0 : margin.margin;
  }

  // Those of one name. A rule that is not exercised has no margin.
  void compare_rules(const std::vector<RuleResult>& old_rules, const std::vector<RuleResult>& new_rules,
                     const std::string& side) {
    for (const RuleResult& rule : new_rules) {
      const std::string& name = after_.compiled.profile()->rules[rule.rule].name;
      const auto old = std::find_if(old_rules.begin(), old_rules.end(), [&](const RuleResult& one) {
        return before_.compiled.profile()->rules[one.rule].name == name;
      });
      if (old == old_rules.end() || old->unit != rule.unit) continue;
      add(side, "rule `" + name + "`", rule.unit, old->exercised ? old->margin : std::nullopt,
          rule.exercised ? rule.margin : std::nullopt);
    }
  }

  static std::optional<double> trip_time(const RailFigures& figures) {
    return figures.trip ? std::optional<double>(figures.trip->time_s) : std::nullopt;
  }

  // The margin of the same kind before. Channels are told apart by their names, since a rail may have several.
  [[nodiscard]] const Margin* partner_of(const Margin& margin, RailId before) const {
    for (const Margin& old : before_.predictions.simulation->margins) {
      const bool same_owner = row_of(margin.kind).owner != MarginOwner::Channel || old.owner == margin.owner;
      if (old.rail == before && old.kind == margin.kind && same_owner) return &old;
    }
    return nullptr;
  }

  void add(const std::string& rail, const std::string& what, const std::string& unit, std::optional<double> before,
           std::optional<double> after) {
    const bool same =
        before && after &&
        std::abs(*before - *after) <= kSameFigure * std::max({std::abs(*before), std::abs(*after), kSmallFigure});
    if (same || (!before && !after)) return;
    changes_.push_back({rail, what, unit, before, after});
  }

  const Answer& before_;
  const Answer& after_;
  std::vector<FigureChange> changes_;
};

// Names that a text has in backticks, each replaced by its partner: a rail that is called otherwise is no other rail.
std::string with_names(const std::string& text, const std::map<std::string, std::string>& names) {
  std::string result;
  std::size_t at = 0;
  while (at < text.size()) {
    const std::size_t open = text.find('`', at);
    const std::size_t close = open == std::string::npos ? open : text.find('`', open + 1);
    if (close == std::string::npos) break;
    const std::string quoted = text.substr(open + 1, close - open - 1);
    const auto name = names.find(quoted);
    result += text.substr(at, open + 1 - at) + (name != names.end() ? name->second : quoted) + "`";
    at = close + 1;
  }
  return result + text.substr(std::min(at, text.size()));
}

// The same without lines of the file, which a comment moves: "at 3.1 s, line 44".
std::string without_lines(std::string text) {
  constexpr std::string_view kLine = ", line ";
  for (std::size_t at = text.find(kLine); at != std::string::npos; at = text.find(kLine, at)) {
    const std::size_t end = std::min(text.find_first_not_of("0123456789", at + kLine.size()), text.size());
    if (end == at + kLine.size()) {
      ++at;
    } else {
      text.erase(at, end - at);
    }
  }
  return text;
}

std::multiset<std::string> findings_of(const Answer& answer, const std::map<std::string, std::string>& names) {
  std::multiset<std::string> texts;
  for (const Finding& finding : answer.findings.findings()) {
    texts.insert(std::string(severity_name(finding.severity)) + ": " +
                 with_names(without_lines(finding.message), names) + " [" + std::string(finding.name) + "]");
  }
  return texts;
}

// Of rails and lines that are called otherwise: the old name, and the new one.
std::map<std::string, std::string> renamed(const Profile& before, const Profile& after, const TableDifference& table) {
  std::map<std::string, std::string> names;
  for (const RailDifference& rail : table.rails) names[before[rail.before].name] = after[rail.after].name;
  for (const LineDifference& line : table.lines) names[before[line.before].name] = after[line.after].name;
  return names;
}

// A finding without its numbers and their units: what is left tells what it speaks of.
std::string without_numbers(const std::string& text) {
  const auto is_digit = [](char c) { return c >= '0' && c <= '9'; };
  std::string result;
  bool after_number = false;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find(' ', at), text.size());
    const std::string word = text.substr(at, end - at);
    const std::size_t first = word.find_first_not_of("(-");
    const bool is_number = first != std::string::npos && is_digit(word[first]);
    const bool is_unit = after_number && find_unit(word.substr(0, word.find_last_not_of(",;:)") + 1)).has_value();
    if (!is_number && !is_unit) result += word + ' ';
    after_number = is_number;
    at = end + 1;
  }
  return result;
}

// Takes findings that differ in numbers alone out of both lists.
std::vector<FindingChange> take_changed(std::vector<std::string>& vanished, std::vector<std::string>& appeared) {
  std::vector<FindingChange> changed;
  std::vector<std::string> gone;
  for (std::string& before : vanished) {
    const auto after = std::find_if(appeared.begin(), appeared.end(), [&](const std::string& one) {
      return without_numbers(one) == without_numbers(before);
    });
    if (after == appeared.end()) {
      gone.push_back(std::move(before));
      continue;
    }
    changed.push_back({std::move(before), std::move(*after)});
    appeared.erase(after);
  }
  vanished = std::move(gone);
  return changed;
}

}  // namespace

bool ProfileDifference::any() const {
  const bool rails =
      std::any_of(table.rails.begin(), table.rails.end(), [](const RailDifference& rail) { return rail.any(); });
  const bool lines = std::any_of(table.lines.begin(), table.lines.end(),
                                 [](const LineDifference& line) { return !line.level.stretches.empty(); });
  const auto is_any = [](const Unmatched& other) { return !other.before.empty() || !other.after.empty(); };
  return rails || lines || is_any(table.other_rails) || is_any(table.other_lines) || !table.waits.empty() ||
         !table.segments.empty() || !table.loops.empty() || table.duration_before != table.duration_after ||
         !setup.empty() || !measurements.empty() || !figures.empty() || !vanished.empty() || !appeared.empty() ||
         !changed.empty();
}

ProfileDifference compare_profiles(const Answer& before, const Answer& after) {
  ProfileDifference result;
  result.table = compare_tables(tables_of(before), tables_of(after));
  result.setup = compare_setups(before, after, result.table.rails);
  compare_lines(before, after, result.table, result.setup);
  result.measurements = compare_measurements(*before.compiled.profile(), *after.compiled.profile());
  result.figures = FigureComparison(before, after).run(result.table.rails);
  const std::multiset<std::string> old_findings =
      findings_of(before, renamed(*before.compiled.profile(), *after.compiled.profile(), result.table));
  const std::multiset<std::string> new_findings = findings_of(after, {});
  std::set_difference(old_findings.begin(), old_findings.end(), new_findings.begin(), new_findings.end(),
                      std::back_inserter(result.vanished));
  std::set_difference(new_findings.begin(), new_findings.end(), old_findings.begin(), old_findings.end(),
                      std::back_inserter(result.appeared));
  result.changed = take_changed(result.vanished, result.appeared);
  return result;
}

}  // namespace rampart::diff
