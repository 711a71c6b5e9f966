#include "runtime/element_reader.h"

#include "lang/findings/files.h"
#include "runtime/load_keys.h"

namespace rampart {
namespace {

constexpr std::size_t kMaxElements = 256;
constexpr std::size_t kMaxPoints = 10'000;
constexpr std::int64_t kMaxInSeries = 1'000'000;

using Points = std::vector<std::pair<double, double>>;

// The values of one element. A key that is absent leaves what stands in `out`.
class ElementFields {
 public:
  ElementFields(const Section& section, FindingSink& findings)
      : section_(section), findings_(findings), errors_before_(findings.error_count()) {}

  void toleranced(std::string_view key, const Dimension& dimension, Bound bound, Toleranced& out) const {
    const auto field = section_.find(key);
    const auto value = field ? read_tolerance(*field, dimension, bound, findings_) : std::nullopt;
    if (value) out = {value->nominal.to_double(), value->low.to_double(), value->high.to_double()};
  }
  void toleranced(std::string_view key, const Dimension& dimension, Bound bound, std::optional<Toleranced>& out) const {
    if (!section_.has(key)) return;
    out.emplace();
    toleranced(key, dimension, bound, *out);
  }
  void exact(std::string_view key, const Dimension& dimension, Bound bound, double& out) const {
    const auto field = section_.find(key);
    const auto value = field ? read_quantity(*field, dimension, bound, findings_) : std::nullopt;
    if (value) out = value->to_double();
  }
  // Pairs like [0 V, 0 A], at least `fewest` of them, the first value rising.
  void points(std::string_view key, std::size_t fewest, const Dimension& first, Bound first_bound,
              const Dimension& second, Bound second_bound, Points& out) const;

  void require(std::initializer_list<std::string_view> keys) const { section_.require(keys); }
  [[nodiscard]] const Section& section() const { return section_; }
  [[nodiscard]] FindingSink& findings() const { return findings_; }
  // True if no value of this element was found wrong: checks of one against another make sense.
  [[nodiscard]] bool clean() const { return findings_.error_count() == errors_before_; }
  // `key`, which is there, is `found`, but that does not fit what `other` is.
  FindingSink::Addition conflict(std::string_view key, const std::string& found, std::string_view other,
                                 const std::string& wanted) const {
    return findings_.report(finding::ValuesDoNotFit, section_.find(key)->value->span, key, found, other, wanted);
  }

 private:
  const Section& section_;
  FindingSink& findings_;
  std::size_t errors_before_;
};

void ElementFields::points(std::string_view key, std::size_t fewest, const Dimension& first, Bound first_bound,
                           const Dimension& second, Bound second_bound, Points& out) const {
  const auto field = section_.find(key);
  const std::vector<YamlNode>* items = field ? read_list(*field, kMaxPoints, findings_) : nullptr;
  if (items == nullptr) return;
  if (items->size() < fewest) {
    findings_.report(finding::ValueImpossible, field->place, key, "a list of " + std::to_string(items->size()),
                     "a list of " + std::to_string(fewest) + " or more");
  }
  std::optional<Rational> last;
  for (const YamlNode& item : *items) {
    if (item.kind != YamlKind::List || item.items.size() != 2) {
      findings_.report(finding::ValueUnreadable, item.span, "this part", "pair of values")
          .hint("write pairs, as in `[" + to_text(Quantity{1, first}) + ", " + to_text(Quantity{1, second}) + "]`");
      continue;
    }
    const auto x = read_quantity(field_of_item(key, item.items[0]), first, first_bound, findings_);
    const auto y = read_quantity(field_of_item(key, item.items[1]), second, second_bound, findings_);
    if (x && last && *x <= *last) {
      findings_.report(finding::NotRising, item.items[0].span, key, {*x, first}, {*last, first})
          .hint("sort the points, and give each value once");
    }
    if (x) last = x;
    if (x && y) out.emplace_back(x->to_double(), y->to_double());
  }
}

ResistorElement read_resistor(const ElementFields& fields) {
  ResistorElement element;
  fields.require({"resistance"});
  fields.toleranced("resistance", dimension::kResistance, Bound::Positive, element.resistance);
  return element;
}

CapacitorElement read_capacitor(const ElementFields& fields) {
  CapacitorElement element;
  fields.require({"capacitance"});
  fields.toleranced("capacitance", dimension::kCapacitance, Bound::Positive, element.capacitance);
  fields.toleranced("esr", dimension::kResistance, Bound::NotNegative, element.esr);
  fields.toleranced("leakage", dimension::kResistance, Bound::Positive, element.leakage);
  fields.exact("initial_voltage", dimension::kVoltage, Bound::NotNegative, element.initial_voltage);
  return element;
}

InductorElement read_inductor(const ElementFields& fields) {
  InductorElement element;
  fields.require({"inductance", "resistance"});
  fields.toleranced("inductance", dimension::kInductance, Bound::Positive, element.inductance);
  fields.toleranced("resistance", dimension::kResistance, Bound::NotNegative, element.resistance);
  fields.exact("initial_current", dimension::kCurrent, Bound::NotNegative, element.initial_current);
  return element;
}

ConstantCurrentElement read_constant_current(const ElementFields& fields) {
  ConstantCurrentElement element;
  fields.require({"current"});
  fields.toleranced("current", dimension::kCurrent, Bound::NotNegative, element.current);
  fields.exact("from", dimension::kVoltage, Bound::NotNegative, element.from);
  return element;
}

ConstantPowerElement read_constant_power(const ElementFields& fields) {
  ConstantPowerElement element;
  fields.require({"power", "starts_at", "stops_at", "input_capacitance"});
  fields.toleranced("power", dimension::kPower, Bound::NotNegative, element.power);
  fields.toleranced("starts_at", dimension::kVoltage, Bound::Positive, element.starts_at);
  fields.toleranced("stops_at", dimension::kVoltage, Bound::Positive, element.stops_at);
  fields.toleranced("input_capacitance", dimension::kCapacitance, Bound::Positive, element.input_capacitance);
  fields.exact("initial_voltage", dimension::kVoltage, Bound::NotNegative, element.initial_voltage);
  fields.exact("soft_start", dimension::kTime, Bound::NotNegative, element.soft_start);
  fields.toleranced("quiescent_current", dimension::kCurrent, Bound::NotNegative, element.quiescent_current);
  if (!fields.clean() || element.stops_at.high < element.starts_at.low) return element;
  const bool by_tolerance = element.stops_at.nominal < element.starts_at.nominal;
  fields
      .conflict("stops_at", (by_tolerance ? "up to " : "") + to_text(element.stops_at.high, "V"), "starts_at",
                (by_tolerance ? "down to " : "") + to_text(element.starts_at.low, "V"))
      .hint("a converter stops below the voltage where it starts");
  return element;
}

DiodeElement read_diode(const ElementFields& fields) {
  DiodeElement element;
  fields.require({"saturation_current", "ideality"});
  fields.toleranced("saturation_current", dimension::kCurrent, Bound::Positive, element.saturation_current);
  fields.toleranced("ideality", dimension::kNone, Bound::Positive, element.ideality);
  fields.toleranced("series_resistance", dimension::kResistance, Bound::NotNegative, element.series_resistance);
  fields.exact("temperature", dimension::kTemperature, Bound::Positive, element.temperature);
  if (const auto field = fields.section().find("in_series")) {
    const auto number = read_whole(*field, 1, kMaxInSeries, fields.findings());
    if (number) element.in_series = static_cast<double>(*number);
  }
  return element;
}

LampElement read_lamp(const ElementFields& fields) {
  LampElement element;
  fields.require({"rated_voltage", "rated_power", "cold_resistance", "heat_capacity"});
  fields.toleranced("rated_voltage", dimension::kVoltage, Bound::Positive, element.rated_voltage);
  fields.toleranced("rated_power", dimension::kPower, Bound::Positive, element.rated_power);
  fields.toleranced("cold_resistance", dimension::kResistance, Bound::Positive, element.cold_resistance);
  fields.toleranced("heat_capacity", dimension::kHeatCapacity, Bound::Positive, element.heat_capacity);
  fields.exact("cold_temperature", dimension::kTemperature, Bound::Positive, element.cold_temperature);
  fields.exact("exponent", dimension::kNone, Bound::Positive, element.exponent);
  if (!fields.clean()) return element;
  // A filament at its rated point is hotter than a cold one, so its resistance is the larger, in every corner.
  const double hot = element.rated_voltage.low * element.rated_voltage.low / element.rated_power.high;
  if (element.cold_resistance.high < hot) return element;
  fields
      .conflict("cold_resistance", to_text(element.cold_resistance.high, "Ohm"), "rated_voltage² / rated_power",
                to_text(hot, "Ohm"))
      .hint("a cold filament has less resistance than a lit one");
  return element;
}

// A current that falls while the voltage rises leaves more than one state open behind a wire, or none.
void check_rising_current(const ElementFields& fields, const Points& points) {
  const std::vector<YamlNode>& items = fields.section().find("points")->value->items;
  for (std::size_t i = 1; i < points.size(); ++i) {
    const double before = points[i - 1].second;
    const double current = points[i].second;
    if (current >= before) continue;
    fields.findings()
        .report(finding::ValueImpossible, items[i].items[1].span, "points",
                "a current that falls from " + to_text(before, "A") + " to " + to_text(current, "A"),
                "one that never falls while the voltage rises")
        .hint("for a device that draws less at a higher voltage write `kind: constant_power`");
    return;
  }
}

CurveElement read_curve(const ElementFields& fields) {
  CurveElement element;
  fields.require({"points"});
  fields.points("points", 2, dimension::kVoltage, Bound::Any, dimension::kCurrent, Bound::Any, element.points);
  if (fields.clean()) check_rising_current(fields, element.points);
  return element;
}

PulsedCurrentElement read_pulsed_current(const ElementFields& fields) {
  PulsedCurrentElement element;
  fields.require({"current", "on", "period"});
  fields.toleranced("current", dimension::kCurrent, Bound::NotNegative, element.current);
  fields.exact("on", dimension::kTime, Bound::Positive, element.on);
  fields.exact("period", dimension::kTime, Bound::Positive, element.period);
  fields.exact("from", dimension::kVoltage, Bound::NotNegative, element.from);
  fields.exact("rest", dimension::kCurrent, Bound::NotNegative, element.rest);
  if (fields.clean() && element.on > element.period) {
    fields.conflict("on", to_text(element.on, "s"), "period", to_text(element.period, "s"))
        .hint("a pulse lasts no longer than its period");
  }
  return element;
}

SourceElement read_source(const ElementFields& fields) {
  SourceElement element;
  fields.require({"voltage", "resistance"});
  fields.toleranced("voltage", dimension::kVoltage, Bound::NotNegative, element.voltage);
  fields.toleranced("resistance", dimension::kResistance, Bound::Positive, element.resistance);
  return element;
}

LoadProfileElement read_load_profile(const ElementFields& fields) {
  LoadProfileElement element;
  fields.require({"power_good", "draws"});
  fields.toleranced("power_good", dimension::kVoltage, Bound::NotNegative, element.power_good);
  fields.points("draws", 1, dimension::kTime, Bound::NotNegative, dimension::kCurrent, Bound::NotNegative,
                element.draws);
  fields.toleranced("input_capacitance", dimension::kCapacitance, Bound::Positive, element.input_capacitance);
  return element;
}

using ElementVariant = decltype(LoadElement::what);

template <auto kRead>
ElementVariant as_variant(const ElementFields& fields) {
  return kRead(fields);
}

// In the order of load_keys::kElements.
constexpr std::array<ElementVariant (*)(const ElementFields&), load_keys::kElements.size()> kReaders{
    as_variant<read_resistor>,       as_variant<read_capacitor>,
    as_variant<read_inductor>,       as_variant<read_constant_current>,
    as_variant<read_constant_power>, as_variant<read_diode>,
    as_variant<read_lamp>,           as_variant<read_curve>,
    as_variant<read_pulsed_current>, as_variant<read_source>,
    as_variant<read_load_profile>};

std::optional<std::size_t> find_kind(const Field& field, FindingSink& findings) {
  const YamlEntry* kind = field.value->kind == YamlKind::Map ? field.value->find("kind") : nullptr;
  std::vector<std::string> kinds;
  for (const KeyTable& table : load_keys::kElements) kinds.emplace_back(table.what);
  if (kind == nullptr) {
    findings.report(finding::KeyMissing, field.place, "this element", "kind")
        .hint("write it as in `{kind: resistor, resistance: 10 Ohm}`");
    return std::nullopt;
  }
  for (std::size_t i = 0; i < kinds.size(); ++i) {
    if (kind->value.kind == YamlKind::Text && kinds[i] == kind->value.text) return i;
  }
  report_unknown_name("kind of element", kind->value.text, kind->value.span, kinds, findings);
  return std::nullopt;
}

}  // namespace

std::vector<LoadElement> read_elements(const Field& field, FindingSink& findings) {
  std::vector<LoadElement> elements;
  const std::vector<YamlNode>* items = read_list(field, kMaxElements, findings);
  if (items == nullptr) return elements;
  for (const YamlNode& item : *items) {
    const Field element = field_of_item(field.key, item);
    const std::optional<std::size_t> kind = find_kind(element, findings);
    if (!kind) continue;
    const KeyTable& table = load_keys::kElements[*kind];
    const Section section(element, "`" + std::string(table.what) + "`", table, findings);
    elements.push_back({item.span, std::string(table.what), kReaders[*kind](ElementFields(section, findings))});
  }
  return elements;
}

}  // namespace rampart
