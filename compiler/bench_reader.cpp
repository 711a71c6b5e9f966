#include <algorithm>

#include "compiler/bench.h"
#include "compiler/bench_keys.h"
#include "compiler/channel_reader.h"
#include "compiler/file_values.h"
#include "lang/findings/files.h"

namespace rampart {
namespace {

constexpr std::size_t kMaxSupplies = 64;
constexpr std::size_t kMaxChannels = 64;
constexpr std::size_t kMaxLines = 64;
constexpr std::size_t kMaxCombinations = 256;
constexpr std::size_t kMaxMembers = 64;
constexpr std::int64_t kMaxPoints = 1'000'000'000;

// Reads a list of texts; `each` gets every text with its place. False if the value is no such list.
template <class Each>
bool read_texts(const Field& field, std::size_t limit, std::string_view what, FindingSink& findings, Each each) {
  const std::vector<YamlNode>* items = read_list(field, limit, findings);
  if (items == nullptr) return false;
  for (const YamlNode& item : *items) {
    if (item.kind == YamlKind::Text) {
      each(item);
    } else {
      findings.report(finding::ValueUnreadable, item.span, "this part", what);
    }
  }
  return true;
}

Timing read_timing(const Field& field, FindingSink& findings) {
  const Section section(field, "`timing`", bench_keys::of("timing"), findings);
  section.require({"minimum_step", "resolution"});
  Timing timing;
  timing.span = field.place;
  const auto time = [&](std::string_view key, Bound bound, Nanoseconds& out) {
    const auto given = section.find(key);
    const auto value = given ? read_nanoseconds(*given, bound, findings) : std::nullopt;
    if (value) out = *value;
    return value.has_value();
  };
  const bool has_step = time("minimum_step", Bound::Positive, timing.minimum_step);
  const bool has_resolution = time("resolution", Bound::Positive, timing.resolution);
  time("skew", Bound::NotNegative, timing.skew);
  if (has_step && has_resolution && timing.minimum_step % timing.resolution != Nanoseconds::zero()) {
    findings.report(finding::ValueImpossible, section.find("minimum_step")->value->span, "minimum_step",
                    to_text(timing.minimum_step), "a whole multiple of `resolution` " + to_text(timing.resolution));
  }
  if (const auto given = section.find("on_delay")) {
    if (const auto range = read_range(*given, dimension::kTime, Steps::None, findings)) {
      const Span place = given->value->span;
      const auto low = to_whole_nanoseconds(range->low, place, given->key, findings);
      const auto high = low ? to_whole_nanoseconds(range->high, place, given->key, findings) : std::nullopt;
      if (high) timing.on_delay = {*low, *high};
    }
  }
  if (const auto given = section.find("interpolation")) {
    constexpr std::array<std::string_view, 2> kWays{"hold", "linear"};
    if (const auto way = read_choice(*given, kWays, findings)) timing.interpolation = static_cast<Interpolation>(*way);
  }
  return timing;
}

std::vector<std::string> read_lines(const Field& field, FindingSink& findings) {
  std::vector<std::string> lines;
  std::vector<Span> places;
  read_texts(field, kMaxLines, "name of a line", findings, [&](const YamlNode& item) {
    if (!check_name(item.text, item.span, findings)) return;
    const auto first = std::find(lines.begin(), lines.end(), item.text);
    if (first != lines.end()) {
      findings.report(finding::FileDuplicateName, item.span, item.text)
          .note(finding::FirstListedHere, places[static_cast<std::size_t>(first - lines.begin())])
          .hint("list each line once");
      return;
    }
    lines.push_back(item.text);
    places.push_back(item.span);
  });
  return lines;
}

// The channels of one supply, as far as `like` is concerned.
struct LikeLinks {
  std::vector<std::optional<std::size_t>> base;
  std::vector<Span> place;
};

class BenchReader {
 public:
  BenchReader(FileId file, FindingSink& findings) : findings_(findings) { bench_.file = file; }

  Bench read(const YamlNode& root) {
    const Field top{"bench", &root, root.entries.empty() ? root.span : root.entries.front().key_span};
    if (root.find("bench") == nullptr && root.find("load") != nullptr) {
      findings_.report(finding::WrongFileKind, root.find("load")->key_span, "load", "bench")
          .hint("a bench file begins with `bench:` and a title");
      return std::move(bench_);
    }
    const Section section(top, "a bench file", bench_keys::of("bench"), findings_);
    section.require({"bench", "supplies"});
    if (const auto title = section.find("bench")) bench_.title = read_title(*title, findings_).value_or("");
    if (const auto supplies = section.find("supplies")) read_supplies(*supplies);
    if (const auto combine = section.find("combine")) read_combinations(*combine);
    return std::move(bench_);
  }

 private:
  void read_supplies(const Field& field) {
    const std::vector<YamlEntry>* entries = read_named(field, kMaxSupplies, findings_);
    if (entries == nullptr) return;
    if (entries->empty()) findings_.report(finding::NoValue, field.place, field.key);
    for (const YamlEntry& entry : *entries) read_supply(entry);
  }

  void read_supply(const YamlEntry& entry) {
    check_name(entry.key, entry.key_span, findings_);
    const Section section(field_of(entry), "supply `" + shown_text(entry.key) + "`", bench_keys::of("supply"),
                          findings_);
    section.require({"timing", "channels"});
    const auto id = static_cast<SupplyId>(bench_.supplies.size());
    Supply supply;
    supply.name = entry.key;
    supply.span = entry.key_span;
    if (const auto timing = section.find("timing")) supply.timing = read_timing(*timing, findings_);
    if (const auto power = section.find("power")) {
      const auto value = read_quantity(*power, dimension::kPower, Bound::Positive, findings_);
      if (value) supply.power = Placed<Watts>{{*value}, power->value->span};
    }
    if (const auto lines = section.find("lines")) supply.lines = read_lines(*lines, findings_);
    if (const auto tracking = section.find("tracking")) supply.tracking = read_flag(*tracking, findings_);
    if (const auto channels = section.find("channels")) read_channels(*channels, id, supply);
    if (const auto table = section.find("table")) read_table(*table, supply);
    bench_.supplies.push_back(std::move(supply));
  }

  void read_channels(const Field& field, SupplyId id, Supply& supply) {
    const std::vector<YamlEntry>* entries = read_named(field, kMaxChannels, findings_);
    if (entries == nullptr) return;
    if (entries->empty()) findings_.report(finding::NoValue, field.place, field.key);
    std::vector<Section> sections;
    std::vector<std::string> names;
    for (const YamlEntry& entry : *entries) {
      check_name(entry.key, entry.key_span, findings_);
      names.push_back(entry.key);
      sections.emplace_back(field_of(entry), "channel `" + shown_text(entry.key) + "`", bench_keys::of("channel"),
                            findings_);
      if (!sections.back().has("like")) sections.back().require({"voltage", "current"});
    }
    const LikeLinks links = read_likes(sections, names);
    const std::size_t first = bench_.channels.size();
    bench_.channels.resize(first + names.size());
    for (const std::size_t index : like_order(links, names)) {
      Channel channel;
      if (links.base[index]) channel = bench_.channels[first + *links.base[index]];
      channel.name = supply.name + "." + names[index];
      channel.supply = id;
      channel.span = (*entries)[index].key_span;
      read_channel(sections[index], channel, findings_);
      check_channel(sections[index], channel, findings_);
      bench_.channels[first + index] = std::move(channel);
    }
    for (std::size_t i = 0; i < names.size(); ++i) supply.channels.push_back(static_cast<ChannelId>(first + i));
  }

  LikeLinks read_likes(const std::vector<Section>& sections, const std::vector<std::string>& names) {
    LikeLinks links;
    for (const Section& section : sections) {
      links.base.emplace_back();
      links.place.push_back(section.place());
      const auto like = section.find("like");
      const auto text = like ? read_title(*like, findings_) : std::nullopt;
      if (!text) continue;
      links.place.back() = like->value->span;
      const auto found = std::find(names.begin(), names.end(), *text);
      if (found != names.end()) {
        links.base.back() = static_cast<std::size_t>(found - names.begin());
      } else {
        report_unknown_name("channel of this supply", *text, like->value->span, names, findings_);
      }
    }
    return links;
  }

  // Every channel after the one that it is like. A circle is reported, and read as if its last link were not there.
  std::vector<std::size_t> like_order(const LikeLinks& links, const std::vector<std::string>& names) {
    enum class State : std::uint8_t { New, OnWay, Done };
    std::vector<State> state(names.size(), State::New);
    std::vector<std::size_t> order;
    for (std::size_t start = 0; start < names.size(); ++start) {
      std::vector<std::size_t> way;
      std::optional<std::size_t> next = start;
      while (next && state[*next] == State::New) {
        state[*next] = State::OnWay;
        way.push_back(*next);
        next = links.base[way.back()];
      }
      if (next && state[*next] == State::OnWay) {
        findings_.report(finding::LikeItself, links.place[way.back()], names[way.back()], names[*next])
            .hint("write the keys of one of them out");
      }
      for (auto it = way.rbegin(); it != way.rend(); ++it) {
        state[*it] = State::Done;
        order.push_back(*it);
      }
    }
    return order;
  }

  void read_table(const Field& field, Supply& supply) {
    const Section section(field, "`table`", bench_keys::of("table"), findings_);
    section.require({"points"});
    TableMemory table;
    table.span = field.place;
    if (const auto points = section.find("points")) {
      table.points = read_whole(*points, 1, kMaxPoints, findings_).value_or(1);
    }
    if (const auto repeats = section.find("repeats")) {
      table.repeats = read_whole(*repeats, 1, kMaxPoints, findings_).value_or(1);
    }
    table.channels = supply.channels;
    if (const auto channels = section.find("channels")) {
      table.channels = read_members(*channels, supply.name + ".", supply.channels, "table");
    }
    supply.table = std::move(table);
  }

  // Names of channels out of `choice`; `prefix` is what their names have in front of what the file writes.
  std::vector<ChannelId> read_members(const Field& field, const std::string& prefix,
                                      const std::vector<ChannelId>& choice, std::string_view user) {
    std::vector<std::string> names;
    for (const ChannelId id : choice) names.push_back(bench_[id].name.substr(prefix.size()));
    std::vector<ChannelId> members;
    std::vector<Span> places;
    // Without channels there is another finding already, and every name would be unknown.
    if (choice.empty()) return members;
    read_texts(field, kMaxMembers, "name of a channel", findings_, [&](const YamlNode& item) {
      const auto found = std::find(names.begin(), names.end(), item.text);
      if (found == names.end()) {
        report_unknown_name("channel", item.text, item.span, names, findings_);
        return;
      }
      const ChannelId id = choice[static_cast<std::size_t>(found - names.begin())];
      const auto first = std::find(members.begin(), members.end(), id);
      if (first != members.end()) {
        findings_.report(finding::ChannelUsedTwice, item.span, item.text, user)
            .note(finding::FirstUsedHere, places[static_cast<std::size_t>(first - members.begin())])
            .hint("name each channel once");
        return;
      }
      members.push_back(id);
      places.push_back(item.span);
    });
    return members;
  }

  void read_combinations(const Field& field) {
    const std::vector<YamlEntry>* entries = read_named(field, kMaxCombinations, findings_);
    if (entries == nullptr) return;
    for (const YamlEntry& entry : *entries) read_combination(entry);
  }

  void read_combination(const YamlEntry& entry) {
    check_name(entry.key, entry.key_span, findings_);
    const std::string shown = shown_text(entry.key);
    const Section section(field_of(entry), "combination `" + shown + "`", bench_keys::of("combination"), findings_);
    const auto series = section.find("series");
    const auto parallel = section.find("parallel");
    if (entry.value.kind == YamlKind::Map && series.has_value() == parallel.has_value()) {
      findings_.report(finding::ValueImpossible, entry.key_span, shown, series ? "both" : "neither",
                       "either `series` or `parallel`");
      return;
    }
    if (!series && !parallel) return;
    const Field& members = series ? *series : *parallel;
    Combination combination;
    combination.name = entry.key;
    combination.span = entry.key_span;
    combination.arrangement = series ? Arrangement::Series : Arrangement::Parallel;
    std::vector<ChannelId> all;
    for (std::size_t i = 0; i < bench_.channels.size(); ++i) all.push_back(static_cast<ChannelId>(i));
    combination.members = read_members(members, "", all, shown);
    if (members.value->kind == YamlKind::List && members.value->items.size() < 2) {
      findings_.report(finding::ValueImpossible, members.place, members.key,
                       "a list of " + std::to_string(members.value->items.size()), "a list of two channels or more");
    }
    check_playing_together(combination);
    bench_.combinations.push_back(std::move(combination));
  }

  // Between two rows one supply would stay where the other goes straight on.
  void check_playing_together(const Combination& combination) {
    for (const ChannelId member : combination.members) {
      const Supply& first = bench_.supply_of(combination.members.front());
      const Supply& other = bench_.supply_of(member);
      if (first.timing.interpolation == other.timing.interpolation) continue;
      findings_.report(finding::CannotPlayTogether, combination.span, combination.name, first.name, other.name)
          .hint("combine channels of supplies that are both `hold` or both `linear`");
      return;
    }
  }

  FindingSink& findings_;
  Bench bench_;
};

}  // namespace

std::optional<Bench> read_bench(const SourceSet& sources, FileId file, FindingSink& findings) {
  const std::size_t errors_before = findings.error_count();
  const std::optional<YamlNode> root = read_yaml(sources, file, findings);
  if (!root) return std::nullopt;
  Bench bench = BenchReader(file, findings).read(*root);
  if (findings.error_count() > errors_before) return std::nullopt;
  return bench;
}

}  // namespace rampart
