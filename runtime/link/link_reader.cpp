#include <algorithm>

#include "compiler/yaml/field_collector.h"
#include "compiler/yaml/file_values.h"
#include "lang/findings/files.h"
#include "lang/text/overloaded.h"
#include "runtime/link/link.h"
#include "runtime/link/link_keys.h"
#include "runtime/link/message_reader.h"
#include "runtime/link/place_reader.h"

namespace rampart::link {
namespace {

constexpr std::size_t kMaxSupplies = 64;
constexpr std::size_t kMaxNames = 64;
constexpr Nanoseconds kShortestTimeout = std::chrono::milliseconds(10);
constexpr Nanoseconds kLongestTimeout = std::chrono::seconds(60);
constexpr Nanoseconds kShortestMonitor = std::chrono::milliseconds(10);
constexpr Nanoseconds kLongestMonitor = std::chrono::seconds(10);
constexpr std::array<std::string_view, kByHandKinds> kByHandNames{"sense",     "overvoltage", "fuse",
                                                                  "overpower", "links",       "lines"};

// `{ch1: 1, ch2: 2}`: names of the bench, and what messages call them.
std::optional<std::vector<LinkName>> read_names(const Field& field, FindingSink& findings) {
  const std::vector<YamlEntry>* entries = read_named(field, kMaxNames, findings);
  if (entries == nullptr) return std::nullopt;
  std::vector<LinkName> names;
  for (const YamlEntry& entry : *entries) {
    check_name(entry.key, entry.key_span, findings);
    const std::optional<std::string> subject = read_title(field_of(entry), findings);
    if (!subject) return std::nullopt;
    const auto twice =
        std::find_if(names.begin(), names.end(), [&](const LinkName& other) { return other.subject == *subject; });
    if (twice != names.end()) {
      findings.report(finding::FileDuplicateName, entry.value.span, shown_text(*subject))
          .hint("messages need a name of its own for `" + entry.key + "` and for `" + twice->name + "`");
      return std::nullopt;
    }
    names.push_back({entry.key, *subject});
  }
  if (names.empty()) {
    findings.report(finding::NoValue, field.place, field.key);
    return std::nullopt;
  }
  return names;
}

std::optional<std::vector<ByHand>> read_by_hand(const Field& field, FindingSink& findings) {
  const std::vector<YamlNode>* items = read_list(field, kByHandKinds, findings);
  if (items == nullptr) return std::nullopt;
  std::vector<ByHand> all;
  for (const YamlNode& item : *items) {
    const auto what = read_one_of<ByHand>(field_of_item(field.key, item), kByHandNames, findings);
    if (!what) return std::nullopt;
    all.push_back(*what);
  }
  return all;
}

using ConditionBits = std::array<std::optional<std::int64_t>, kConditionBits>;

std::optional<ConditionBits> read_condition_bits(const Field& field, FindingSink& findings) {
  // SCPI-1999, volume 1, 9: bit 15 of a condition register is always 0.
  constexpr std::int64_t kHighestBit = 14;
  const Section section(field, "`condition_bits`", link_keys::of("condition_bits"), findings);
  if (!section.is_sound()) return std::nullopt;
  const std::size_t errors_before = findings.error_count();
  ConditionBits bits;
  for (std::size_t i = 0; i < bits.size(); ++i) {
    section.read(link_keys::kConditionBits[i],
                 [&](const Field& bit) { bits[i] = read_whole(bit, 0, kHighestBit, findings); });
  }
  if (findings.error_count() > errors_before) return std::nullopt;
  return bits;
}

std::optional<Nanoseconds> read_time_within(const Field& field, Nanoseconds low, Nanoseconds high,
                                            FindingSink& findings) {
  const std::optional<Nanoseconds> time = read_nanoseconds(field, Bound::Positive, findings);
  if (!time || (low <= *time && *time <= high)) return time;
  findings.report(finding::ValueImpossible, field.value->span, field.key, to_text(*time),
                  to_text(low) + " to " + to_text(high));
  return std::nullopt;
}

// `2027-05-01`, after ISO 8601.
std::optional<std::string> read_date(const Field& field, FindingSink& findings) {
  std::optional<std::string> text = read_title(field, findings);
  if (!text) return std::nullopt;
  constexpr std::string_view kPattern = "dddd-dd-dd";
  bool fits = text->size() == kPattern.size();
  for (std::size_t i = 0; fits && i < kPattern.size(); ++i) {
    const char c = (*text)[i];
    fits = kPattern[i] == 'd' ? c >= '0' && c <= '9' : c == '-';
  }
  fits = fits && text->substr(5, 2) >= "01" && text->substr(5, 2) <= "12" && text->substr(8) >= "01" &&
         text->substr(8) <= "31";
  if (fits) return text;
  findings.report(finding::ValueUnreadable, field.value->span, shown_text(*text), "a date")
      .hint("write year, month and day, as in 2027-05-01");
  return std::nullopt;
}

class LinkReader {
 public:
  explicit LinkReader(FindingSink& findings) : findings_(findings) {}

  Link read(const YamlNode& root) {
    const Field top = field_of_item("link", root);
    if (is_other_file(root, "link", {"bench", "load"}, findings_)) return std::move(link_);
    const Section section(top, "a link file", link_keys::of("link"), findings_);
    section.require({"link", "supplies"});
    section.read("link",
                 [&](const Field& title) { link_.title = read_title(title, findings_).value_or(std::string()); });
    section.read("supplies", [&](const Field& supplies) { read_supplies(supplies); });
    return std::move(link_);
  }

 private:
  void read_supplies(const Field& field) {
    const std::vector<YamlEntry>* entries = read_some_named(field, kMaxSupplies, findings_);
    if (entries == nullptr) return;
    for (const YamlEntry& entry : *entries) read_supply(entry);
  }

  void read_supply(const YamlEntry& entry) {
    check_name(entry.key, entry.key_span, findings_);
    const Section section(field_of(entry), "supply `" + shown_text(entry.key) + "`", link_keys::of("supply"),
                          findings_);
    SupplyLink start;
    start.name = entry.key;
    start.span = entry.key_span;
    const std::optional<Place> place = read_place(section, findings_);
    const auto names = [&](const Field& field) { return read_names(field, findings_); };
    std::optional<SupplyLink> supply =
        FieldCollector<SupplyLink>(section, std::move(start))
            .required("serial_number", &SupplyLink::serial_number,
                      [&](const Field& serial) { return read_title(serial, findings_); })
            .required("channels", &SupplyLink::channels, names)
            .optional("lines", &SupplyLink::lines, names)
            .optional("by_hand", &SupplyLink::by_hand,
                      [&](const Field& field) { return read_by_hand(field, findings_); })
            .optional(
                "timeout", &SupplyLink::timeout,
                [&](const Field& time) { return read_time_within(time, kShortestTimeout, kLongestTimeout, findings_); })
            .optional(
                "monitor", &SupplyLink::monitor,
                [&](const Field& time) { return read_time_within(time, kShortestMonitor, kLongestMonitor, findings_); })
            .optional(
                "watchdog", &SupplyLink::watchdog,
                [&](const Field& time) { return read_time_within(time, kShortestMonitor, kLongestTimeout, findings_); })
            .optional("condition_bits", &SupplyLink::condition_bits,
                      [&](const Field& bits) { return read_condition_bits(bits, findings_); })
            .optional("messages", &SupplyLink::messages,
                      [&](const Field& messages) { return read_messages(messages, findings_); })
            .optional("calibration_due", &SupplyLink::calibration_due,
                      [&](const Field& date) { return read_date(date, findings_); })
            .check([&](const SupplyLink& read) { check_messages(read, section, findings_); })
            .result();
    if (!supply || !place) return;
    supply->place = *place;
    check_place(*supply);
    link_.supplies.push_back(*std::move(supply));
  }

  // Two supplies are two instruments.
  void check_place(const SupplyLink& supply) {
    for (const SupplyLink& other : link_.supplies) {
      const bool same_place = place_text(other.place) == place_text(supply.place);
      if (!same_place) continue;
      findings_.report(finding::FileDuplicateName, supply.span, place_text(supply.place))
          .note(finding::FirstListedHere, other.span)
          .hint("each supply is an instrument of its own");
    }
  }

  FindingSink& findings_;
  Link link_;
};

std::optional<std::string> subject_of(const std::vector<LinkName>& names, std::string_view name) {
  const auto found = std::find_if(names.begin(), names.end(), [name](const LinkName& one) { return one.name == name; });
  if (found == names.end()) return std::nullopt;
  return found->subject;
}

}  // namespace

std::string place_text(const Place& place) {
  return std::visit(Overloaded{[](const TcpPlace& tcp) { return tcp.address + " port " + std::to_string(tcp.port); },
                               [](const SerialPlace& serial) { return serial.device; },
                               [](const UsbtmcPlace& usbtmc) { return usbtmc.device; }},
                    place);
}

std::string_view by_hand_name(ByHand what) {
  return kByHandNames[static_cast<std::size_t>(what)];
}

std::optional<std::string> SupplyLink::subject_of_channel(std::string_view channel) const {
  return subject_of(channels, channel);
}

std::optional<std::string> SupplyLink::subject_of_line(std::string_view line) const {
  return subject_of(lines, line);
}

bool SupplyLink::is_by_hand(ByHand what) const {
  return std::find(by_hand.begin(), by_hand.end(), what) != by_hand.end();
}

const SupplyLink* Link::find(std::string_view supply) const {
  const auto found =
      std::find_if(supplies.begin(), supplies.end(), [&](const SupplyLink& one) { return one.name == supply; });
  return found == supplies.end() ? nullptr : &*found;
}

std::optional<Link> read_link(const SourceSet& sources, FileId file, FindingSink& findings) {
  return read_file_values(sources, file, findings,
                          [&](const YamlNode& root) { return LinkReader(findings).read(root); });
}

}  // namespace rampart::link
