#include "compiler/bench/outputs_reader.h"

#include "compiler/bench/bench_keys.h"
#include "compiler/bench/name_lists.h"

namespace rampart {
namespace {

constexpr std::size_t kMaxOutputs = 256;

class OutputsReader {
 public:
  OutputsReader(Bench& bench, FindingSink& findings) : bench_(bench), findings_(findings) {
    for (std::size_t i = 0; i < bench.channels.size(); ++i) all_channels_.push_back(static_cast<ChannelId>(i));
  }

  void read(const YamlEntry& entry) {
    if (check_name(entry.key, entry.key_span, findings_)) check_free(entry);
    switch (entry.value.kind) {
      case YamlKind::Text:
        return read_channel(entry);
      case YamlKind::Map:
        return read_combination(entry);
      case YamlKind::Empty:
        findings_.report(finding::NoValue, entry.value.span, shown_text(entry.key)).hint(std::string(kForms));
        return;
      case YamlKind::List:
        findings_
            .report(finding::ValueImpossible, entry.value.span, shown_text(entry.key), "a list",
                    "a channel or a combination")
            .hint(std::string(kForms));
        return;
    }
  }

 private:
  static constexpr std::string_view kForms = "name one channel, or join several by `series` or `parallel`";

  // A reader of the profile must not take the name for that of a supply or a channel.
  void check_free(const YamlEntry& entry) {
    for (const Supply& supply : bench_.supplies) {
      if (supply.name == entry.key) return report_taken(entry, "supply", supply.span);
      for (const ChannelId id : supply.channels) {
        const Channel& channel = bench_[id];
        if (channel.name.substr(supply.name.size() + 1) == entry.key) {
          return report_taken(entry, "channel of `" + supply.name + "`", channel.span);
        }
      }
    }
  }

  void report_taken(const YamlEntry& entry, std::string_view owner, const Span& place) {
    findings_.report(finding::OutputNameTaken, entry.key_span, entry.key, owner)
        .note(finding::FirstListedHere, place)
        .hint("name the output after its purpose in profiles");
  }

  void read_channel(const YamlEntry& entry) {
    // Without channels there is another finding already.
    if (bench_.channels.empty()) return;
    const std::optional<ChannelId> channel = bench_.find_channel(entry.value.text);
    if (channel) {
      bench_.outputs.push_back({entry.key, *channel});
      return;
    }
    std::vector<std::string> names;
    for (const Channel& each : bench_.channels) names.push_back(each.name);
    report_unknown_name("channel", entry.value.text, entry.value.span, names, findings_);
  }

  void read_combination(const YamlEntry& entry) {
    const std::string shown = shown_text(entry.key);
    const Section section(field_of(entry), "combination `" + shown + "`", bench_keys::of("combination"), findings_);
    const bool series = section.has("series");
    if (series == section.has("parallel")) {
      // A key that is not known was meant to be one of the two.
      if (series || section.is_sound()) {
        findings_.report(finding::ValueImpossible, entry.key_span, shown, series ? "both" : "neither",
                         "either `series` or `parallel`");
      }
      return;
    }
    section.read(series ? "series" : "parallel", [&](const Field& members) {
      Combination combination;
      combination.name = entry.key;
      combination.span = entry.key_span;
      combination.arrangement = series ? Arrangement::Series : Arrangement::Parallel;
      combination.members = read_members(members, "", all_channels_, shown, bench_, findings_);
      if (members.value->kind == YamlKind::List) check_several(members, shown);
      bench_.outputs.push_back({entry.key, static_cast<CombinationId>(bench_.combinations.size())});
      bench_.combinations.push_back(std::move(combination));
    });
  }

  void check_several(const Field& members, const std::string& shown) {
    const std::vector<YamlNode>& items = members.value->items;
    if (items.size() >= 2) return;
    FindingSink::Addition addition =
        findings_.report(finding::ValueImpossible, members.place, members.key,
                         "a list of " + std::to_string(items.size()), "a list of two channels or more");
    if (items.size() == 1) {
      addition.hint("name a single channel without `" + std::string(members.key) + "`: `" + shown + ": " +
                    shown_text(items.front().text) + "`");
    }
  }

  Bench& bench_;
  FindingSink& findings_;
  std::vector<ChannelId> all_channels_;
};

}  // namespace

void read_outputs(const Field& field, Bench& bench, FindingSink& findings) {
  const std::vector<YamlEntry>* entries = read_named(field, kMaxOutputs, findings);
  if (entries == nullptr) return;
  OutputsReader reader(bench, findings);
  for (const YamlEntry& entry : *entries) reader.read(entry);
}

void check_playing_together(const Bench& bench, FindingSink& findings) {
  for (const Combination& combination : bench.combinations) {
    const Supply& first = bench.supply_of(combination.members.front());
    for (const ChannelId member : combination.members) {
      const Supply& other = bench.supply_of(member);
      if (first.timing.interpolation == other.timing.interpolation) continue;
      // Between two rows one supply would stay where the other goes straight on.
      findings.report(finding::CannotPlayTogether, combination.span, combination.name, first.name, other.name)
          .hint("combine channels of supplies that are both `hold` or both `linear`");
      break;
    }
  }
}

}  // namespace rampart
