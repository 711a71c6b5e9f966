#include <algorithm>

#include "compiler/table/setup.h"
#include "lang/values/short_text.h"
#include "runtime/report/sections.h"

namespace rampart::report {
namespace {

std::string linked_words(const Profile& profile, const Fuse& fuse) {
  std::string words;
  for (const RailId rail : fuse.linked) words += (words.empty() ? ", linked with " : " and ") + profile[rail].name;
  return words;
}

// "left.ch1", "left.ch1 and left.ch2 in series", and the supplies that they are of.
struct Terminals {
  std::string channels;
  std::string supplies;
};

Terminals terminals_of(const Subject& subject, std::size_t rail) {
  const Bench& bench = *subject.answer.compiled.bench();
  Terminals terminals;
  std::vector<std::string> supplies;
  const RailSetup& setup = subject.answer.compiled.run()->rails()[rail];
  for (const ChannelId id : setup.members) {
    const Channel& channel = bench[id];
    terminals.channels += (terminals.channels.empty() ? "" : " and ") + channel.name;
    const std::string& supply = bench.supplies[static_cast<std::size_t>(channel.supply)].name;
    if (std::find(supplies.begin(), supplies.end(), supply) == supplies.end()) supplies.push_back(supply);
  }
  for (const std::string& supply : supplies) {
    terminals.supplies += (terminals.supplies.empty() ? "" : " and ") + supply;
  }
  if (setup.arrangement) {
    terminals.channels += *setup.arrangement == Arrangement::Series ? " in series" : " in parallel";
  }
  return terminals;
}

std::string leads_of(const Subject& subject, const Rail& rail) {
  if (!subject.answer.predictions.load) return "";
  const RailLoad* load = subject.answer.predictions.load->find_rail(rail.name);
  if (load == nullptr) return "not in the load file";
  return load->wire.nominal == 0 ? "no resistance given" : short_text(load->wire.nominal, "Ohm") + " there and back";
}

Markup rails_table(const Subject& subject) {
  HtmlTable table("Wiring of each rail", {"rail", "supply", "channel", "polarity", "sense", "leads", "protection"});
  for (std::size_t i = 0; i < subject.profile.rails.size(); ++i) {
    const Rail& rail = subject.profile.rails[i];
    const Terminals terminals = terminals_of(subject, i);
    table.add({name(rail.name), name(terminals.supplies), name(terminals.channels),
               text(rail.reversed ? "reversed: + of the output to the reference of the device" : "normal"),
               text(rail.remote_sense ? "remote: sense leads at the load" : "local"), text(leads_of(subject, rail)),
               text(protection_words(subject.profile, rail.protection))});
  }
  return table.markup();
}

std::string role_of(const Profile& profile, const Line& line) {
  static constexpr std::string_view kTriggers[] = {"", ", high after a trip", ", high in constant current",
                                                   ", switches off"};
  std::string text = line.is_output ? "output" : "input";
  text += kTriggers[static_cast<std::size_t>(line.trigger)];
  for (std::size_t i = 0; i < line.rails.size(); ++i) text += (i == 0 ? " " : ", ") + profile[line.rails[i]].name;
  return text;
}

Markup lines_table(const Subject& subject) {
  HtmlTable table("Lines", {"line", "terminal", "role"});
  for (const Line& line : subject.profile.lines) {
    table.add({name(line.name), name(line_name(*subject.answer.compiled.bench(), line)),
               text(role_of(subject.profile, line))});
  }
  return table.empty() ? Markup() : table.markup();
}

// "capacitance 330 uF (264 uF to 396 uF), esr 60 mOhm".
std::string values_of(ElementPart part) {
  std::string words;
  for (const TolerancedValue& one : toleranced_values(part)) {
    const Toleranced& value = *one.value;
    words += (words.empty() ? "" : ", ") + std::string(one.key) + " " + short_text(value.nominal, one.unit);
    if (value.low < value.high) {
      words += " (" + short_text(value.low, one.unit) + " to " + short_text(value.high, one.unit) + ")";
    }
  }
  return words;
}

Markup parts_table(const Subject& subject) {
  if (!subject.answer.predictions.load) return {};
  HtmlTable table("Parts of the load, as the load file describes them", {"rail", "part", "kind", "values"});
  for (const Rail& rail : subject.profile.rails) {
    const RailLoad* load = subject.answer.predictions.load->find_rail(rail.name);
    if (load == nullptr) continue;
    for (std::size_t i = 0; i < load->elements.size(); ++i) {
      const LoadElement& element = load->elements[i];
      table.add({name(rail.name), name(load->name_of(i)), text(element.kind()), text(values_of(element.what))});
    }
  }
  return table.empty() ? Markup() : table.markup();
}

}  // namespace

std::string protection_words(const Profile& profile, const Protection& protection) {
  std::string words;
  const auto add = [&](const std::string& part) { words += (words.empty() ? "" : "; ") + part; };
  if (protection.ceiling) add("ceiling " + to_text(protection.ceiling->value));
  if (protection.overvoltage) add("overvoltage protection above " + to_text(protection.overvoltage->value));
  if (protection.fuse) {
    const Fuse& fuse = *protection.fuse;
    add("fuse after " + to_text(fuse.delay.value) +
        (fuse.current ? " at " + to_text(fuse.current->value) : std::string(" in constant current")) +
        linked_words(profile, fuse));
  }
  if (protection.overpower) {
    add("overpower protection above " + to_text(protection.overpower->power.value) +
        (protection.overpower->delay.value.count() > 0 ? " for " + to_text(protection.overpower->delay.value) : ""));
  }
  return words.empty() ? "no protection is set" : words;
}

Markup wiring_section(const Subject& subject) {
  return section("wiring", "Wiring", rails_table(subject) + lines_table(subject) + parts_table(subject));
}

}  // namespace rampart::report
