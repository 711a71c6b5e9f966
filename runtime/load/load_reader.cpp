#include <algorithm>

#include "compiler/yaml/field_collector.h"
#include "compiler/yaml/file_values.h"
#include "lang/findings/files.h"
#include "runtime/load/element_reader.h"
#include "runtime/load/fault_instant.h"
#include "runtime/load/load.h"
#include "runtime/load/load_keys.h"

namespace rampart {
namespace {

constexpr std::size_t kMaxRails = 256;
constexpr std::size_t kMaxFaults = 1000;

// A part of a text as a value of its own.
YamlNode text_part(const YamlNode& node, std::size_t begin, std::size_t end) {
  YamlNode part;
  part.kind = YamlKind::Text;
  part.text = node.text.substr(begin, end - begin);
  part.span = node.part(begin, end - begin);
  part.verbatim = node.verbatim;
  part.text_begin = node.text_begin + static_cast<std::uint32_t>(begin);
  return part;
}

struct FaultInstant {
  std::optional<std::string> mark;
  Nanoseconds after{0};
  Span mark_span;
};

// The keys of one fault.
struct FaultFields {
  std::string rail;
  FaultInstant at;
  std::vector<LoadElement> becomes;
};

class LoadReader {
 public:
  explicit LoadReader(FindingSink& findings) : findings_(findings) {}

  Load read(const YamlNode& root) {
    const Field top = field_of_item("load", root);
    if (is_other_file(root, "load", {"bench", "link"}, findings_)) return std::move(load_);
    const Section section(top, "a load file", load_keys::kTables[0], findings_);
    section.require({"load", "rails"});
    section.read("load",
                 [&](const Field& title) { load_.title = read_title(title, findings_).value_or(std::string()); });
    section.read("rails", [&](const Field& rails) { read_rails(rails); });
    section.read("faults", [&](const Field& faults) { read_faults(faults); });
    return std::move(load_);
  }

 private:
  void read_rails(const Field& field) {
    const std::vector<YamlEntry>* entries = read_named(field, kMaxRails, findings_);
    if (entries == nullptr) return;
    for (const YamlEntry& entry : *entries) {
      check_name(entry.key, entry.key_span, findings_);
      const Section section(field_of(entry), "rail `" + shown_text(entry.key) + "`", load_keys::kTables[1], findings_);
      std::optional<RailLoad> rail =
          FieldCollector<RailLoad>(section, {entry.key, entry.key_span, {}, {}})
              .required("elements", &RailLoad::elements,
                        [&](const Field& elements) { return read_elements(elements, findings_); })
              .optional("wire", &RailLoad::wire,
                        [&](const Field& wire) {
                          return read_toleranced(wire, dimension::kResistance, Bound::NotNegative, findings_);
                        })
              .result();
      rail_names_.push_back(entry.key);
      if (rail) load_.rails.push_back(*std::move(rail));
    }
  }

  void read_faults(const Field& field) {
    const std::vector<YamlEntry>* entries = read_named(field, kMaxFaults, findings_);
    if (entries == nullptr) return;
    for (const YamlEntry& entry : *entries) {
      check_name(entry.key, entry.key_span, findings_);
      const Section section(field_of(entry), "fault `" + shown_text(entry.key) + "`", load_keys::kTables[2], findings_);
      std::optional<FaultFields> fault =
          FieldCollector<FaultFields>(section)
              .required("rail", &FaultFields::rail, [&](const Field& rail) { return read_fault_rail(rail); })
              .required("at", &FaultFields::at, [&](const Field& at) { return read_instant(at); })
              .required("becomes", &FaultFields::becomes,
                        [&](const Field& elements) { return read_elements(elements, findings_); })
              .result();
      if (!fault) continue;
      load_.faults.push_back({entry.key, entry.key_span, std::move(fault->rail), std::move(fault->at.mark),
                              fault->at.after, std::move(fault->becomes), fault->at.mark_span});
    }
  }

  std::optional<std::string> read_fault_rail(const Field& field) {
    std::optional<std::string> name = read_title(field, findings_);
    if (!name || std::find(rail_names_.begin(), rail_names_.end(), *name) != rail_names_.end()) return name;
    report_unknown_name("rail in this file", *name, field.value->span, rail_names_, findings_);
    return std::nullopt;
  }

  // `30 s`, `mark NAME`, `mark NAME + 5 s`, `mark NAME - 5 s`.
  std::optional<FaultInstant> read_instant(const Field& field) {
    constexpr std::string_view kMark = "mark ";
    const YamlNode& node = *field.value;
    const bool is_text = node.kind == YamlKind::Text;
    if (is_text && !node.text.starts_with(kMark) && !parse_quantity(node.text)) {
      findings_.report(finding::ValueUnreadable, node.span, shown_text(node.text), "a time")
          .hint("write a time, `mark NAME`, or `mark NAME + 5 s`");
      return std::nullopt;
    }
    if (!is_text || !node.text.starts_with(kMark)) {
      const std::optional<Nanoseconds> time = read_nanoseconds(field, Bound::NotNegative, findings_);
      if (!time) return std::nullopt;
      return FaultInstant{std::nullopt, *time, {}};
    }
    const std::optional<MarkPart> part = mark_part(node.text);
    Nanoseconds after{0};
    if (part && part->time) {
      const YamlNode offset = text_part(node, *part->time, node.text.size());
      const auto time = read_nanoseconds({field.key, &offset, field.place}, Bound::NotNegative, findings_);
      if (!time) return std::nullopt;
      after = part->is_before ? -*time : *time;
    }
    if (!part) {
      findings_.report(finding::ValueUnreadable, node.span, shown_text(node.text), "an instant")
          .hint("write the mark's name, as in `mark nominal + 5 s`");
      return std::nullopt;
    }
    return FaultInstant{std::string(part->name), after, node.part(part->begin, part->name.size())};
  }

  FindingSink& findings_;
  std::vector<std::string> rail_names_;
  Load load_;
};

}  // namespace

std::optional<Load> read_load(const SourceSet& sources, FileId file, FindingSink& findings) {
  return read_file_values(sources, file, findings,
                          [&](const YamlNode& root) { return LoadReader(findings).read(root); });
}

}  // namespace rampart
