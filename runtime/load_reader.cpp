#include "compiler/file_values.h"
#include "lang/findings/files.h"
#include "runtime/element_reader.h"
#include "runtime/load.h"
#include "runtime/load_keys.h"

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

class LoadReader {
 public:
  LoadReader(FileId file, FindingSink& findings) : findings_(findings) { load_.file = file; }

  Load read(const YamlNode& root) {
    const Field top = field_of_item("load", root);
    if (root.find("load") == nullptr && root.find("bench") != nullptr) {
      findings_.report(finding::WrongFileKind, root.find("bench")->key_span, "bench", "load")
          .hint("a load file begins with `load:` and a title");
      return std::move(load_);
    }
    const Section section(top, "a load file", load_keys::kTables[0], findings_);
    section.require({"load", "rails"});
    if (const auto title = section.find("load")) load_.title = read_title(*title, findings_).value_or("");
    if (const auto rails = section.find("rails")) read_rails(*rails);
    if (const auto faults = section.find("faults")) read_faults(*faults);
    return std::move(load_);
  }

 private:
  void read_rails(const Field& field) {
    const std::vector<YamlEntry>* entries = read_named(field, kMaxRails, findings_);
    if (entries == nullptr) return;
    for (const YamlEntry& entry : *entries) {
      check_name(entry.key, entry.key_span, findings_);
      const Section section(field_of(entry), "rail `" + shown_text(entry.key) + "`", load_keys::kTables[1], findings_);
      section.require({"elements"});
      RailLoad rail;
      rail.rail = entry.key;
      rail.span = entry.key_span;
      if (const auto wire = section.find("wire")) {
        const auto value = read_tolerance(*wire, dimension::kResistance, Bound::NotNegative, findings_);
        if (value) rail.wire = {value->nominal.to_double(), value->low.to_double(), value->high.to_double()};
      }
      if (const auto elements = section.find("elements")) rail.elements = read_elements(*elements, findings_);
      load_.rails.push_back(std::move(rail));
    }
  }

  void read_faults(const Field& field) {
    const std::vector<YamlEntry>* entries = read_named(field, kMaxFaults, findings_);
    if (entries == nullptr) return;
    for (const YamlEntry& entry : *entries) {
      check_name(entry.key, entry.key_span, findings_);
      const Section section(field_of(entry), "fault `" + shown_text(entry.key) + "`", load_keys::kTables[2], findings_);
      section.require({"rail", "at", "becomes"});
      Fault fault;
      fault.name = entry.key;
      fault.span = entry.key_span;
      if (const auto rail = section.find("rail")) read_fault_rail(*rail, fault);
      if (const auto at = section.find("at")) read_instant(*at, fault);
      if (const auto becomes = section.find("becomes")) fault.becomes = read_elements(*becomes, findings_);
      load_.faults.push_back(std::move(fault));
    }
  }

  void read_fault_rail(const Field& field, Fault& fault) {
    const std::optional<std::string> name = read_title(field, findings_);
    if (!name) return;
    fault.rail = *name;
    if (load_.find_rail(*name) != nullptr) return;
    std::vector<std::string> names;
    for (const RailLoad& rail : load_.rails) names.push_back(rail.rail);
    report_unknown_name("rail in this file", *name, field.value->span, names, findings_);
  }

  // `30 s`, `mark NAME`, `mark NAME + 5 s`, `mark NAME - 5 s`; a name that holds a `+` or ` - ` stands in double
  // quotes.
  void read_instant(const Field& field, Fault& fault) {
    constexpr std::string_view kMark = "mark ";
    const YamlNode& node = *field.value;
    const bool is_text = node.kind == YamlKind::Text;
    if (is_text && !node.text.starts_with(kMark) && !parse_quantity(node.text)) {
      findings_.report(finding::ValueUnreadable, node.span, shown_text(node.text), "time")
          .hint("write a time, `mark NAME`, or `mark NAME + 5 s`");
      return;
    }
    if (!is_text || !node.text.starts_with(kMark)) {
      fault.after = read_nanoseconds(field, Bound::NotNegative, findings_).value_or(Nanoseconds{0});
      return;
    }
    std::string_view name = std::string_view(node.text).substr(kMark.size());
    const std::size_t quote = name.starts_with('"') ? name.find('"', 1) : std::string_view::npos;
    const std::size_t from = quote == std::string_view::npos ? 0 : quote + 1;
    const std::size_t plus = name.find('+', from);
    const std::size_t minus = plus == std::string_view::npos ? name.find(" - ", from) : std::string_view::npos;
    if (const std::size_t sign = plus != std::string_view::npos ? plus : minus; sign != std::string_view::npos) {
      const bool is_before = sign == minus;
      const YamlNode offset = text_part(node, kMark.size() + sign + (is_before ? 2 : 1), node.text.size());
      const Field part{field.key, &offset, field.place};
      fault.after = read_nanoseconds(part, Bound::NotNegative, findings_).value_or(Nanoseconds{0});
      if (is_before) fault.after = -fault.after;
      name = name.substr(0, sign);
    }
    while (name.ends_with(' ')) name.remove_suffix(1);
    while (name.starts_with(' ')) name.remove_prefix(1);
    if (name.size() > 1 && name.front() == '"' && name.back() == '"') name = name.substr(1, name.size() - 2);
    if (name.empty()) {
      findings_.report(finding::ValueUnreadable, node.span, shown_text(node.text), "instant")
          .hint("write the mark's name, as in `mark nominal + 5 s`");
    }
    fault.mark = std::string(name);
  }

  FindingSink& findings_;
  Load load_;
};

}  // namespace

std::optional<Load> read_load(const SourceSet& sources, FileId file, FindingSink& findings) {
  const std::size_t errors_before = findings.error_count();
  const std::optional<YamlNode> root = read_yaml(sources, file, findings);
  if (!root) return std::nullopt;
  Load load = LoadReader(file, findings).read(*root);
  if (findings.error_count() > errors_before) return std::nullopt;
  return load;
}

}  // namespace rampart
