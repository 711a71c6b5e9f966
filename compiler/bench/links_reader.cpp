#include "compiler/bench/links_reader.h"

#include <algorithm>

#include "compiler/bench/bench_keys.h"
#include "compiler/bench/name_lists.h"
#include "lang/findings/files.h"

namespace rampart {
namespace {

constexpr std::size_t kMaxLinks = 256;
constexpr std::size_t kMaxLinkedSupplies = 64;
constexpr Nanoseconds kLongestLinkDelay = std::chrono::seconds(10);

class LinksReader {
 public:
  LinksReader(Bench& bench, FindingSink& findings) : bench_(bench), findings_(findings) {
    for (const Supply& supply : bench.supplies) names_.push_back(supply.name);
  }

  void read(const YamlEntry& entry) {
    check_name(entry.key, entry.key_span, findings_);
    const std::string shown = shown_text(entry.key);
    const Section section(field_of(entry), "link `" + shown + "`", bench_keys::of("link"), findings_);
    section.require({"delay"});
    const bool is_wired = section.has("wired");
    if (is_wired == section.has("internal")) {
      // A key that is not known was meant to be one of the two.
      if (is_wired || section.is_sound()) {
        findings_.report(finding::ValueImpossible, entry.key_span, shown, is_wired ? "both" : "neither",
                         "either `internal` or `wired`");
      }
      return;
    }
    ProtectionLink link;
    link.name = entry.key;
    link.span = entry.key_span;
    link.by = is_wired ? LinkedBy::Wired : LinkedBy::Internal;
    section.read("delay", [&](const Field& delay) { link.delay = read_delay(delay).value_or(Nanoseconds{0}); });
    section.read(is_wired ? "wired" : "internal", [&](const Field& supplies) {
      const std::size_t errors_before = findings_.error_count();
      link.supplies = read_supplies(supplies);
      if (findings_.error_count() > errors_before) return;
      const std::size_t least = is_wired ? 2 : 1;
      if (link.supplies.size() < least) {
        findings_.report(finding::ValueImpossible, supplies.place, supplies.key,
                         "a list of " + std::to_string(link.supplies.size()),
                         is_wired ? "a list of two supplies or more" : "a list of one supply or more");
      } else if (!is_known(link)) {
        bench_.links.push_back(std::move(link));
      }
    });
  }

 private:
  std::optional<Nanoseconds> read_delay(const Field& field) {
    const std::optional<Nanoseconds> delay = read_nanoseconds(field, Bound::NotNegative, findings_);
    if (!delay || *delay <= kLongestLinkDelay) return delay;
    findings_.report(finding::ValueImpossible, field.value->span, field.key, to_text(*delay),
                     "at most " + to_text(kLongestLinkDelay));
    return std::nullopt;
  }

  std::vector<SupplyId> read_supplies(const Field& field) {
    std::vector<SupplyId> supplies;
    std::vector<Span> places;
    read_texts(field, kMaxLinkedSupplies, "the name of a supply", findings_, [&](const YamlNode& item) {
      const auto found = std::find(names_.begin(), names_.end(), item.text);
      if (found == names_.end()) {
        report_unknown_name("supply", item.text, item.span, names_, findings_);
        return;
      }
      const auto id = static_cast<SupplyId>(found - names_.begin());
      const auto first = std::find(supplies.begin(), supplies.end(), id);
      if (first != supplies.end()) {
        findings_.report(finding::FileDuplicateName, item.span, item.text)
            .note(finding::FirstListedHere, places[static_cast<std::size_t>(first - supplies.begin())])
            .hint("name each supply once");
        return;
      }
      supplies.push_back(id);
      places.push_back(item.span);
    });
    return supplies;
  }

  [[nodiscard]] std::string pair_text(SupplyId one, SupplyId two) const {
    return one == two ? bench_[one].name : bench_[one].name + "` and `" + bench_[two].name;
  }

  // Two supplies of the link are in another one, whose delay may differ.
  bool is_known(const ProtectionLink& link) {
    for (std::size_t i = 0; i < link.supplies.size(); ++i) {
      for (std::size_t k = link.supplies.size() == 1 ? 0 : i + 1; k < link.supplies.size(); ++k) {
        const ProtectionLink* other = bench_.find_link(link.supplies[i], link.supplies[k]);
        if (other == nullptr) continue;
        findings_.report(finding::FileDuplicateName, link.span, pair_text(link.supplies[i], link.supplies[k]))
            .note(finding::FirstListedHere, other->span)
            .hint("give each pair of supplies one link, with its longest delay");
        return true;
      }
    }
    return false;
  }

  Bench& bench_;
  FindingSink& findings_;
  std::vector<std::string> names_;
};

}  // namespace

void read_links(const Field& field, Bench& bench, FindingSink& findings) {
  const std::vector<YamlEntry>* entries = read_named(field, kMaxLinks, findings);
  if (entries == nullptr) return;
  LinksReader reader(bench, findings);
  for (const YamlEntry& entry : *entries) reader.read(entry);
}

}  // namespace rampart
