#include <algorithm>

#include "compiler/yaml/field_collector.h"
#include "compiler/yaml/file_values.h"
#include "lang/findings/files.h"
#include "lang/text/overloaded.h"
#include "runtime/link/link.h"
#include "runtime/link/link_keys.h"
#include "runtime/link/transport.h"

namespace rampart::link {
namespace {

constexpr std::size_t kMaxSupplies = 64;
constexpr std::size_t kMaxNames = 64;
constexpr std::int64_t kMostBaud = 4'000'000;
constexpr Nanoseconds kShortestTimeout = std::chrono::milliseconds(10);
constexpr Nanoseconds kLongestTimeout = std::chrono::seconds(60);
constexpr Nanoseconds kShortestMonitor = std::chrono::milliseconds(10);
constexpr Nanoseconds kLongestMonitor = std::chrono::seconds(10);
constexpr std::string_view kNoMessage = "none";
constexpr std::array<std::string_view, kByHandKinds> kByHandNames{"sense",     "overvoltage", "fuse",
                                                                  "overpower", "links",       "lines"};
constexpr std::array<std::string_view, 3> kParities{"none", "odd", "even"};
constexpr std::array<std::string_view, 3> kFlows{"none", "software", "hardware"};

template <class Choice, std::size_t kCount>
auto choice_of(const std::array<std::string_view, kCount>& names, FindingSink& findings) {
  return [&names, &findings](const Field& field) -> std::optional<Choice> {
    const std::optional<std::size_t> found = read_choice(field, names, findings);
    if (!found) return std::nullopt;
    return static_cast<Choice>(*found);
  };
}

std::optional<Place> read_tcp(const Field& field, FindingSink& findings) {
  const Section section(field, "`tcp`", link_keys::of("tcp"), findings);
  std::optional<TcpPlace> place =
      FieldCollector<TcpPlace>(section)
          .required("address", &TcpPlace::address,
                    [&](const Field& address) -> std::optional<std::string> {
                      std::optional<std::string> text = read_title(address, findings);
                      if (!text || is_ip_address(*text)) return text;
                      findings.report(finding::ValueUnreadable, address.value->span, shown_text(*text), "an IP address")
                          .hint("write it in numbers, as in 192.168.1.20: names are not looked up");
                      return std::nullopt;
                    })
          .optional("port", &TcpPlace::port,
                    [&](const Field& port) -> std::optional<std::uint16_t> {
                      const auto number = read_whole(port, 1, 65535, findings);
                      if (!number) return std::nullopt;
                      return static_cast<std::uint16_t>(*number);
                    })
          .result();
  if (!place) return std::nullopt;
  return Place(*std::move(place));
}

// A path from the root: what it means does not depend on the folder that the program is called in.
std::optional<std::string> read_device(const Field& field, FindingSink& findings) {
  std::optional<std::string> path = read_title(field, findings);
  if (!path || path->starts_with('/')) return path;
  findings.report(finding::ValueUnreadable, field.value->span, shown_text(*path), "a device file")
      .hint("write its whole path, as in /dev/ttyUSB0");
  return std::nullopt;
}

std::optional<Place> read_serial(const Field& field, FindingSink& findings) {
  const Section section(field, "`serial`", link_keys::of("serial"), findings);
  const auto whole = [&](std::int64_t low, std::int64_t high) {
    return [&findings, low, high](const Field& number) { return read_whole(number, low, high, findings); };
  };
  std::optional<SerialPlace> place =
      FieldCollector<SerialPlace>(section)
          .required("device", &SerialPlace::device, [&](const Field& path) { return read_device(path, findings); })
          .optional("baud", &SerialPlace::baud, whole(50, kMostBaud))
          .optional("data_bits", &SerialPlace::data_bits, whole(7, 8))
          .optional("stop_bits", &SerialPlace::stop_bits, whole(1, 2))
          .optional("parity", &SerialPlace::parity, choice_of<Parity>(kParities, findings))
          .optional("flow", &SerialPlace::flow, choice_of<FlowControl>(kFlows, findings))
          .result();
  if (!place) return std::nullopt;
  return Place(*std::move(place));
}

std::optional<Place> read_usbtmc(const Field& field, FindingSink& findings) {
  const Section section(field, "`usbtmc`", link_keys::of("usbtmc"), findings);
  std::optional<UsbtmcPlace> place =
      FieldCollector<UsbtmcPlace>(section)
          .required("device", &UsbtmcPlace::device, [&](const Field& path) { return read_device(path, findings); })
          .result();
  if (!place) return std::nullopt;
  return Place(*std::move(place));
}

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
    const auto what = choice_of<ByHand>(kByHandNames, findings)(field_of_item(field.key, item));
    if (!what) return std::nullopt;
    all.push_back(*what);
  }
  return all;
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

std::optional<Messages> read_messages(const Field& field, FindingSink& findings) {
  static const std::vector<std::string_view> kKeys = [] {
    std::vector<std::string_view> keys;
    for (const MessageRow& row : message_rows()) keys.push_back(row.key);
    return keys;
  }();
  const Section section(field, "`messages`", KeyTable{"messages", kKeys}, findings);
  if (!section.is_sound()) return std::nullopt;
  Messages messages;
  bool is_right = true;
  for (const MessageRow& row : message_rows()) {
    section.read(row.key, [&](const Field& text_field) {
      const std::optional<std::string> text = read_title(text_field, findings);
      if (!text) {
        is_right = false;
        return;
      }
      const bool is_none = *text == kNoMessage;
      if (const std::string mistake = is_none ? "" : mistake_of(row.kind, *text); !mistake.empty()) {
        findings.report(finding::ValueImpossible, text_field.value->span, row.key, "`" + shown_text(*text) + "`",
                        mistake);
        is_right = false;
      }
      messages.replace(row.kind, is_none ? "" : *text);
    });
  }
  if (!is_right) return std::nullopt;
  return messages;
}

// Without these nothing can be played or switched off safely.
constexpr std::array kNeeded{MessageKind::Identify,       MessageKind::Complete,    MessageKind::OutputOn,
                             MessageKind::OutputOff,      MessageKind::OutputState, MessageKind::Voltage,
                             MessageKind::VoltageSet,     MessageKind::Current,     MessageKind::CurrentSet,
                             MessageKind::MeasuredVoltage};

void check_messages(const SupplyLink& supply, const Section& section, FindingSink& findings) {
  for (const MessageKind kind : kNeeded) {
    if (supply.messages.has(kind)) continue;
    findings.report(finding::ValueImpossible, section.value_place("messages"), row_of(kind).key, "`none`",
                    "a message that the supply understands");
  }
  const bool watches = supply.messages.has(MessageKind::WatchdogFeed);
  if (supply.watchdog &&
      !(watches && supply.messages.has(MessageKind::WatchdogArm) && supply.messages.has(MessageKind::WatchdogDisarm))) {
    findings.report(finding::KeyWithoutOther, section.value_place("watchdog"), section.label(), "watchdog",
                    "messages: watchdog_arm, watchdog_feed, watchdog_disarm");
  } else if (!supply.watchdog && watches) {
    findings.report(finding::KeyWithoutOther, section.value_place("messages"), section.label(), "watchdog_feed",
                    "watchdog");
  }
}

class LinkReader {
 public:
  explicit LinkReader(FindingSink& findings) : findings_(findings) {}

  Link read(const YamlNode& root) {
    const Field top = field_of_item("link", root);
    for (const std::string_view other : {"bench", "load"}) {
      const YamlEntry* entry = root.find(other);
      if (entry == nullptr || root.find("link") != nullptr) continue;
      findings_.report(finding::WrongFileKind, entry->key_span, other, "link")
          .hint("a link file begins with `link:` and a title");
      return std::move(link_);
    }
    const Section section(top, "a link file", link_keys::of("link"), findings_);
    section.require({"link", "supplies"});
    section.read("link",
                 [&](const Field& title) { link_.title = read_title(title, findings_).value_or(std::string()); });
    section.read("supplies", [&](const Field& supplies) { read_supplies(supplies); });
    return std::move(link_);
  }

 private:
  void read_supplies(const Field& field) {
    const std::vector<YamlEntry>* entries = read_named(field, kMaxSupplies, findings_);
    if (entries == nullptr) return;
    if (entries->empty()) findings_.report(finding::NoValue, field.place, field.key);
    for (const YamlEntry& entry : *entries) read_supply(entry);
  }

  // The one of `tcp`, `serial` and `usbtmc` that is given.
  std::optional<Place> read_place(const Section& section) {
    constexpr std::array<std::string_view, 3> kKeys{"tcp", "serial", "usbtmc"};
    if (!section.is_sound()) return std::nullopt;
    const auto count = std::count_if(kKeys.begin(), kKeys.end(), [&](auto key) { return section.has(key); });
    if (count != 1) {
      findings_.report(finding::ValueImpossible, section.place(), section.label(),
                       count == 0 ? "without a way to reach it" : "given several ways to reach it",
                       "given one of `tcp`, `serial` and `usbtmc`");
      return std::nullopt;
    }
    std::optional<Place> place;
    section.read("tcp", [&](const Field& tcp) { place = read_tcp(tcp, findings_); });
    section.read("serial", [&](const Field& serial) { place = read_serial(serial, findings_); });
    section.read("usbtmc", [&](const Field& usbtmc) { place = read_usbtmc(usbtmc, findings_); });
    return place;
  }

  void read_supply(const YamlEntry& entry) {
    check_name(entry.key, entry.key_span, findings_);
    const Section section(field_of(entry), "supply `" + shown_text(entry.key) + "`", link_keys::of("supply"),
                          findings_);
    SupplyLink start;
    start.name = entry.key;
    start.span = entry.key_span;
    const std::optional<Place> place = read_place(section);
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
  const std::size_t errors_before = findings.error_count();
  const std::optional<YamlNode> root = read_yaml(sources, file, findings);
  if (!root) return std::nullopt;
  Link link = LinkReader(findings).read(*root);
  if (findings.error_count() > errors_before) return std::nullopt;
  return link;
}

}  // namespace rampart::link
