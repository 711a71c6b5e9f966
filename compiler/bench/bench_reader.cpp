#include <algorithm>
#include <array>

#include "compiler/bench/bench.h"
#include "compiler/bench/bench_keys.h"
#include "compiler/bench/channel_reader.h"
#include "compiler/bench/links_reader.h"
#include "compiler/bench/name_lists.h"
#include "compiler/bench/outputs_reader.h"
#include "compiler/yaml/field_collector.h"
#include "compiler/yaml/file_values.h"
#include "lang/findings/files.h"

namespace rampart {
namespace {

constexpr std::size_t kMaxSupplies = 64;
constexpr std::size_t kMaxChannels = 64;
constexpr std::size_t kMaxLines = 64;
constexpr std::int64_t kMaxPoints = 1'000'000'000;
constexpr Nanoseconds kLongestOnDelay = std::chrono::hours(1);

std::optional<Timing> read_timing(const Field& field, FindingSink& findings) {
  constexpr std::array<std::string_view, 2> kWays{"hold", "linear"};
  const Section section(field, "`timing`", bench_keys::of("timing"), findings);
  const auto positive = [&](const Field& time) { return read_nanoseconds(time, Bound::Positive, findings); };
  Timing start;
  start.span = field.place;
  return FieldCollector<Timing>(section, start)
      .required("minimum_step", &Timing::minimum_step, positive)
      .required("resolution", &Timing::resolution, positive)
      .optional("skew", &Timing::skew,
                [&](const Field& time) { return read_nanoseconds(time, Bound::NotNegative, findings); })
      .optional("on_delay", &Timing::on_delay, [&](const Field& times) { return read_times(times, findings); })
      .optional("interpolation", &Timing::interpolation,
                [&](const Field& choice) { return read_one_of<Interpolation>(choice, kWays, findings); })
      .check([&](const Timing& timing) {
        if (timing.on_delay.high <= kLongestOnDelay) return;
        findings.report(finding::ValueImpossible, section.value_place("on_delay"), "on_delay",
                        to_text(timing.on_delay.high), "at most " + to_text(kLongestOnDelay));
      })
      .check([&](const Timing& timing) {
        if (timing.minimum_step % timing.resolution == Nanoseconds::zero()) return;
        findings.report(finding::ValueImpossible, section.value_place("minimum_step"), "minimum_step",
                        to_text(timing.minimum_step), "a whole multiple of `resolution` " + to_text(timing.resolution));
      })
      .result();
}

std::vector<std::string> read_lines(const Field& field, FindingSink& findings) {
  std::vector<std::string> lines;
  std::vector<Span> places;
  read_texts(field, kMaxLines, "the name of a line", findings, [&](const YamlNode& item) {
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
  BenchReader(FileId file, FindingSink& findings) : findings_(findings), errors_before_(findings.error_count()) {
    bench_.file = file;
  }

  Bench read(const YamlNode& root) {
    const Field top{"bench", &root, root.entries.empty() ? root.span : root.entries.front().key_span};
    if (is_other_file(root, "bench", {"load", "link"}, findings_)) return std::move(bench_);
    const Section section(top, "a bench file", bench_keys::of("bench"), findings_);
    section.require({"bench", "supplies"});
    section.read("bench",
                 [&](const Field& title) { bench_.title = read_title(title, findings_).value_or(std::string()); });
    section.read("supplies", [&](const Field& supplies) { read_supplies(supplies); });
    section.read("outputs", [&](const Field& outputs) { read_outputs(outputs, bench_, findings_); });
    section.read("links", [&](const Field& links) { read_links(links, bench_, findings_); });
    if (findings_.error_count() == errors_before_) check_playing_together(bench_, findings_);
    return std::move(bench_);
  }

 private:
  void read_supplies(const Field& field) {
    const std::vector<YamlEntry>* entries = read_some_named(field, kMaxSupplies, findings_);
    if (entries == nullptr) return;
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
    section.read("timing", [&](const Field& field) {
      if (const std::optional<Timing> timing = read_timing(field, findings_)) supply.timing = *timing;
    });
    section.read("power", [&](const Field& field) {
      const auto value = read_measure<dimension::kPower>(field, Bound::Positive, findings_);
      if (value) supply.power = Placed<Watts>{*value, field.value->span};
    });
    section.read("lines", [&](const Field& field) { supply.lines = read_lines(field, findings_); });
    section.read("tracking", [&](const Field& field) { supply.tracking = read_flag(field, findings_); });
    section.read("channels", [&](const Field& field) { read_channels(field, id, supply); });
    section.read("table", [&](const Field& field) { supply.table = read_table(field, supply); });
    bench_.supplies.push_back(std::move(supply));
  }

  void read_channels(const Field& field, SupplyId id, Supply& supply) {
    const std::vector<YamlEntry>* entries = read_some_named(field, kMaxChannels, findings_);
    if (entries == nullptr) return;
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
      const std::size_t errors_before = findings_.error_count();
      read_channel(sections[index], channel, findings_);
      if (findings_.error_count() == errors_before) check_channel(sections[index], channel, findings_);
      bench_.channels[first + index] = std::move(channel);
    }
    for (std::size_t i = 0; i < names.size(); ++i) supply.channels.push_back(static_cast<ChannelId>(first + i));
  }

  LikeLinks read_likes(const std::vector<Section>& sections, const std::vector<std::string>& names) {
    LikeLinks links;
    for (const Section& section : sections) {
      links.base.emplace_back();
      links.place.push_back(section.place());
      section.read("like", [&](const Field& field) {
        const std::optional<std::string> text = read_title(field, findings_);
        if (!text) return;
        links.place.back() = field.value->span;
        const auto found = std::find(names.begin(), names.end(), *text);
        if (found != names.end()) {
          links.base.back() = static_cast<std::size_t>(found - names.begin());
        } else {
          report_unknown_name("channel of this supply", *text, field.value->span, names, findings_);
        }
      });
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

  std::optional<TableMemory> read_table(const Field& field, const Supply& supply) {
    const Section section(field, "`table`", bench_keys::of("table"), findings_);
    const auto count = [&](const Field& number) { return read_whole(number, 1, kMaxPoints, findings_); };
    TableMemory start;
    start.span = field.place;
    start.channels = supply.channels;
    return FieldCollector<TableMemory>(section, std::move(start))
        .required("points", &TableMemory::points, count)
        .optional("repeats", &TableMemory::repeats, count)
        .optional(
            "channels", &TableMemory::channels,
            [&](const Field& names) {
              return std::optional(read_members(names, supply.name + ".", supply.channels, "table", bench_, findings_));
            })
        .result();
  }

  FindingSink& findings_;
  std::size_t errors_before_;
  Bench bench_;
};

}  // namespace

std::optional<Bench> read_bench(const SourceSet& sources, FileId file, FindingSink& findings) {
  return read_file_values(sources, file, findings,
                          [&](const YamlNode& root) { return BenchReader(file, findings).read(root); });
}

}  // namespace rampart
