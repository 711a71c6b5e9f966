#include "runtime/load/element_reader.h"

#include <algorithm>
#include <array>
#include <type_traits>

#include "compiler/yaml/field_collector.h"
#include "lang/findings/files.h"
#include "runtime/load/load_keys.h"

namespace rampart {
namespace {

constexpr std::size_t kMaxElements = 256;
constexpr std::size_t kMaxPoints = 10'000;
constexpr std::int64_t kMaxInSeries = 1'000'000;

using Points = std::vector<std::pair<double, double>>;

// What one coordinate of a point is.
struct Axis {
  Dimension dimension;
  Bound bound;
};

// Pairs like [0 V, 0 A], at least `fewest` of them, the first value rising.
std::optional<Points> read_points(const Field& field, std::size_t fewest, const Axis& first, const Axis& second,
                                  FindingSink& findings) {
  const std::size_t errors_before = findings.error_count();
  const std::vector<YamlNode>* items = read_list(field, kMaxPoints, findings);
  if (items == nullptr) return std::nullopt;
  if (items->size() < fewest) {
    findings.report(finding::ValueImpossible, field.place, field.key, "a list of " + std::to_string(items->size()),
                    "a list of " + std::to_string(fewest) + " or more");
  }
  Points points;
  std::optional<Rational> last;
  for (const YamlNode& item : *items) {
    if (item.kind != YamlKind::List || item.items.size() != 2) {
      findings.report(finding::ValueUnreadable, item.span, "this part", "pair of values")
          .hint("write pairs, as in `[" + to_text(Quantity{1, first.dimension}) + ", " +
                to_text(Quantity{1, second.dimension}) + "]`");
      continue;
    }
    const auto x = read_quantity(field_of_item(field.key, item.items[0]), first.dimension, first.bound, findings);
    const auto y = read_quantity(field_of_item(field.key, item.items[1]), second.dimension, second.bound, findings);
    if (x && last && *x <= *last) {
      findings
          .report(finding::NotRising, item.items[0].span, field.key, {*x, first.dimension}, {*last, first.dimension})
          .hint("sort the points, and give each value once");
    }
    if (x) last = x;
    if (x && y) points.emplace_back(x->to_double(), y->to_double());
  }
  if (findings.error_count() > errors_before) return std::nullopt;
  return points;
}

// The keys of one element.
template <class Element>
class ElementFields {
 public:
  ElementFields(const Section& section, FindingSink& findings)
      : section_(section), findings_(findings), collector_(section) {}

  template <class Member>
  ElementFields& required(std::string_view key, Member Element::*member, const Dimension& dimension, Bound bound) {
    collector_.required(key, member, reader_of(member, dimension, bound));
    return *this;
  }
  template <class Member>
  ElementFields& optional(std::string_view key, Member Element::*member, const Dimension& dimension, Bound bound) {
    collector_.optional(key, member, reader_of(member, dimension, bound));
    return *this;
  }
  ElementFields& points(std::string_view key, Points Element::*member, std::size_t fewest, const Axis& first,
                        const Axis& second) {
    collector_.required(key, member,
                        [&](const Field& field) { return read_points(field, fewest, first, second, findings_); });
    return *this;
  }
  ElementFields& count(std::string_view key, double Element::*member, std::int64_t most) {
    collector_.optional(key, member, [&](const Field& field) -> std::optional<double> {
      const std::optional<std::int64_t> number = read_whole(field, 1, most, findings_);
      if (!number) return std::nullopt;
      return static_cast<double>(*number);
    });
    return *this;
  }
  template <class Check>
  ElementFields& check(const Check& check) {
    collector_.check(check);
    return *this;
  }
  // `key` is `found`, but that does not fit what `other` is.
  FindingSink::Addition conflict(std::string_view key, const std::string& found, std::string_view other,
                                 const std::string& wanted) const {
    return findings_.report(finding::ValuesDoNotFit, section_.value_place(key), key, found, other, wanted);
  }
  [[nodiscard]] const Section& section() const { return section_; }
  [[nodiscard]] FindingSink& findings() const { return findings_; }
  [[nodiscard]] std::optional<Element> result() { return collector_.result(); }

 private:
  template <class Member>
  auto reader_of(Member Element::*, const Dimension& dimension, Bound bound) const {
    return [this, dimension, bound](const Field& field) {
      if constexpr (std::is_same_v<Member, double>) {
        const std::optional<Rational> value = read_quantity(field, dimension, bound, findings_);
        return value ? std::optional(value->to_double()) : std::nullopt;
      } else {
        return read_toleranced(field, dimension, bound, findings_);
      }
    };
  }

  const Section& section_;
  FindingSink& findings_;
  FieldCollector<Element> collector_;
};

void collect(ElementFields<ResistorElement>& fields) {
  using Of = ResistorElement;
  fields.required("resistance", &Of::resistance, dimension::kResistance, Bound::Positive);
}

void collect(ElementFields<CapacitorElement>& fields) {
  using Of = CapacitorElement;
  fields.required("capacitance", &Of::capacitance, dimension::kCapacitance, Bound::Positive)
      .optional("esr", &Of::esr, dimension::kResistance, Bound::NotNegative)
      .optional("leakage", &Of::leakage, dimension::kResistance, Bound::Positive)
      .optional("initial_voltage", &Of::initial_voltage, dimension::kVoltage, Bound::NotNegative);
}

void collect(ElementFields<InductorElement>& fields) {
  using Of = InductorElement;
  fields.required("inductance", &Of::inductance, dimension::kInductance, Bound::Positive)
      .required("resistance", &Of::resistance, dimension::kResistance, Bound::NotNegative)
      .optional("initial_current", &Of::initial_current, dimension::kCurrent, Bound::NotNegative);
}

void collect(ElementFields<ConstantCurrentElement>& fields) {
  using Of = ConstantCurrentElement;
  fields.required("current", &Of::current, dimension::kCurrent, Bound::NotNegative)
      .optional("from", &Of::from, dimension::kVoltage, Bound::NotNegative);
}

void collect(ElementFields<ConstantPowerElement>& fields) {
  using Of = ConstantPowerElement;
  fields.required("power", &Of::power, dimension::kPower, Bound::NotNegative)
      .required("starts_at", &Of::starts_at, dimension::kVoltage, Bound::Positive)
      .required("stops_at", &Of::stops_at, dimension::kVoltage, Bound::Positive)
      .required("input_capacitance", &Of::input_capacitance, dimension::kCapacitance, Bound::Positive)
      .optional("initial_voltage", &Of::initial_voltage, dimension::kVoltage, Bound::NotNegative)
      .optional("soft_start", &Of::soft_start, dimension::kTime, Bound::NotNegative)
      .optional("quiescent_current", &Of::quiescent_current, dimension::kCurrent, Bound::NotNegative)
      .check([&](const Of& element) {
        if (element.stops_at.high < element.starts_at.low) return;
        const bool by_tolerance = element.stops_at.nominal < element.starts_at.nominal;
        fields
            .conflict("stops_at", (by_tolerance ? "up to " : "") + to_text(element.stops_at.high, "V"), "starts_at",
                      (by_tolerance ? "down to " : "") + to_text(element.starts_at.low, "V"))
            .hint("a converter stops below the voltage where it starts");
      });
}

void collect(ElementFields<DiodeElement>& fields) {
  using Of = DiodeElement;
  fields.required("saturation_current", &Of::saturation_current, dimension::kCurrent, Bound::Positive)
      .required("ideality", &Of::ideality, dimension::kNone, Bound::Positive)
      .optional("series_resistance", &Of::series_resistance, dimension::kResistance, Bound::NotNegative)
      .optional("temperature", &Of::temperature, dimension::kTemperature, Bound::Positive)
      .count("in_series", &Of::in_series, kMaxInSeries);
}

void collect(ElementFields<LampElement>& fields) {
  using Of = LampElement;
  fields.required("rated_voltage", &Of::rated_voltage, dimension::kVoltage, Bound::Positive)
      .required("rated_power", &Of::rated_power, dimension::kPower, Bound::Positive)
      .required("cold_resistance", &Of::cold_resistance, dimension::kResistance, Bound::Positive)
      .required("heat_capacity", &Of::heat_capacity, dimension::kHeatCapacity, Bound::Positive)
      .optional("cold_temperature", &Of::cold_temperature, dimension::kTemperature, Bound::Positive)
      .optional("exponent", &Of::exponent, dimension::kNone, Bound::Positive)
      .check([&](const Of& element) {
        // A filament at its rated point is hotter than a cold one, so its resistance is the larger, in every corner.
        const double hot = element.rated_voltage.low * element.rated_voltage.low / element.rated_power.high;
        if (element.cold_resistance.high < hot) return;
        fields
            .conflict("cold_resistance", to_text(element.cold_resistance.high, "Ohm"), "rated_voltage² / rated_power",
                      to_text(hot, "Ohm"))
            .hint("a cold filament has less resistance than a lit one");
      });
}

// A current that falls while the voltage rises leaves more than one state open behind a wire, or none.
void check_rising_current(const ElementFields<CurveElement>& fields, const Points& points) {
  for (std::size_t i = 1; i < points.size(); ++i) {
    const double before = points[i - 1].second;
    const double current = points[i].second;
    if (current >= before) continue;
    fields.section().read("points", [&](const Field& field) {
      fields.findings()
          .report(finding::ValueImpossible, field.value->items[i].items[1].span, field.key,
                  "a current that falls from " + to_text(before, "A") + " to " + to_text(current, "A"),
                  "one that never falls while the voltage rises")
          .hint("for a device that draws less at a higher voltage write `kind: constant_power`");
    });
    return;
  }
}

void collect(ElementFields<CurveElement>& fields) {
  fields
      .points("points", &CurveElement::points, 2, {dimension::kVoltage, Bound::Any}, {dimension::kCurrent, Bound::Any})
      .check([&](const CurveElement& element) { check_rising_current(fields, element.points); });
}

void collect(ElementFields<PulsedCurrentElement>& fields) {
  using Of = PulsedCurrentElement;
  fields.required("current", &Of::current, dimension::kCurrent, Bound::NotNegative)
      .required("on", &Of::on, dimension::kTime, Bound::Positive)
      .required("period", &Of::period, dimension::kTime, Bound::Positive)
      .optional("from", &Of::from, dimension::kVoltage, Bound::NotNegative)
      .optional("rest", &Of::rest, dimension::kCurrent, Bound::NotNegative)
      .check([&](const Of& element) {
        if (element.on <= element.period) return;
        fields.conflict("on", to_text(element.on, "s"), "period", to_text(element.period, "s"))
            .hint("a pulse lasts no longer than its period");
      });
}

void collect(ElementFields<SourceElement>& fields) {
  using Of = SourceElement;
  fields.required("voltage", &Of::voltage, dimension::kVoltage, Bound::NotNegative)
      .required("resistance", &Of::resistance, dimension::kResistance, Bound::Positive);
}

void collect(ElementFields<LoadProfileElement>& fields) {
  using Of = LoadProfileElement;
  fields.required("power_good", &Of::power_good, dimension::kVoltage, Bound::NotNegative)
      .points("draws", &Of::draws, 1, {dimension::kTime, Bound::NotNegative}, {dimension::kCurrent, Bound::NotNegative})
      .optional("input_capacitance", &Of::input_capacitance, dimension::kCapacitance, Bound::Positive);
}

using ElementVariant = decltype(LoadElement::what);

template <class Element>
std::optional<ElementVariant> read_element(const Section& section, FindingSink& findings) {
  ElementFields<Element> fields(section, findings);
  collect(fields);
  return fields.result();
}

using ElementReader = std::optional<ElementVariant> (*)(const Section&, FindingSink&);

// In the order of load_keys::kElements.
constexpr std::array<ElementReader, load_keys::kElements.size()> kReaders{
    read_element<ResistorElement>,      read_element<CapacitorElement>,
    read_element<InductorElement>,      read_element<ConstantCurrentElement>,
    read_element<ConstantPowerElement>, read_element<DiodeElement>,
    read_element<LampElement>,          read_element<CurveElement>,
    read_element<PulsedCurrentElement>, read_element<SourceElement>,
    read_element<LoadProfileElement>};

std::optional<std::size_t> find_kind(const Field& field, FindingSink& findings) {
  const YamlEntry* kind = field.value->kind == YamlKind::Map ? field.value->find("kind") : nullptr;
  if (kind == nullptr) {
    findings.report(finding::KeyMissing, field.place, "this element", "kind")
        .hint("write it as in `{kind: resistor, resistance: 10 Ohm}`");
    return std::nullopt;
  }
  const std::optional<std::string> name = read_title(field_of(*kind), findings);
  if (!name) return std::nullopt;
  std::vector<std::string> kinds;
  for (const KeyTable& table : load_keys::kElements) kinds.emplace_back(table.what);
  const auto found = std::find(kinds.begin(), kinds.end(), *name);
  if (found != kinds.end()) return static_cast<std::size_t>(found - kinds.begin());
  report_unknown_name("kind of element", *name, kind->value.span, kinds, findings);
  return std::nullopt;
}

}  // namespace

std::optional<Toleranced> read_toleranced(const Field& field, const Dimension& dimension, Bound bound,
                                          FindingSink& findings) {
  const std::optional<QuantityTolerance> value = read_tolerance(field, dimension, bound, findings);
  if (!value) return std::nullopt;
  return Toleranced{value->nominal.to_double(), value->low.to_double(), value->high.to_double()};
}

std::optional<std::vector<LoadElement>> read_elements(const Field& field, FindingSink& findings) {
  const std::vector<YamlNode>* items = read_list(field, kMaxElements, findings);
  if (items == nullptr) return std::nullopt;
  std::vector<LoadElement> elements;
  for (const YamlNode& item : *items) {
    const Field element = field_of_item(field.key, item);
    const std::optional<std::size_t> kind = find_kind(element, findings);
    if (!kind) continue;
    const KeyTable& table = load_keys::kElements[*kind];
    const Section section(element, "`" + std::string(table.what) + "`", table, findings);
    std::optional<ElementVariant> what = kReaders[*kind](section, findings);
    if (what) elements.push_back({item.span, std::string(table.what), *std::move(what)});
  }
  if (elements.size() < items->size()) return std::nullopt;
  return elements;
}

}  // namespace rampart
