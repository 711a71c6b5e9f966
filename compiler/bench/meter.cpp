#include "compiler/bench/meter.h"

#include <array>

#include "compiler/bench/accuracy_field.h"
#include "compiler/yaml/field_collector.h"
#include "compiler/yaml/file_values.h"
#include "lang/findings/files.h"

namespace rampart {
namespace {

constexpr std::size_t kMaxRanges = 32;
constexpr std::array<std::string_view, 2> kPoints{"terminals", "load"};
constexpr std::array<std::string_view, 2> kMains{"50 Hz", "60 Hz"};

template <Dimension kDimension>
std::optional<MeterRange<Measure<kDimension>>> read_meter_range(const Field& field, FindingSink& findings) {
  using Of = MeterRange<Measure<kDimension>>;
  const Section section(field, "a measuring range", {"meter_range", meter_keys::kRange}, findings);
  return FieldCollector<Of>(section)
      .required("up_to", &Of::up_to,
                [&](const Field& given) -> std::optional<std::optional<Measure<kDimension>>> {
                  const auto value = read_measure<kDimension>(given, Bound::Positive, findings);
                  if (!value) return std::nullopt;
                  return std::optional(value);
                })
      .required("accuracy", &Of::accuracy, [&](const Field& given) { return accuracy_of<kDimension>(given, findings); })
      .result();
}

template <Dimension kDimension>
std::optional<std::vector<MeterRange<Measure<kDimension>>>> read_meter_ranges(const Field& field,
                                                                              FindingSink& findings) {
  const std::vector<YamlNode>* items = read_list(field, kMaxRanges, findings);
  if (items == nullptr) return std::nullopt;
  if (items->empty()) {
    findings.report(finding::NoValue, field.place, field.key);
    return std::nullopt;
  }
  std::vector<MeterRange<Measure<kDimension>>> ranges;
  for (const YamlNode& item : *items) {
    const auto range = read_meter_range<kDimension>(field_of_item(field.key, item), findings);
    if (!range) return std::nullopt;
    if (!ranges.empty() && !(*ranges.back().up_to < *range->up_to)) {
      findings.report(finding::ValueImpossible, item.span, "up_to", to_text(*range->up_to),
                      "above that of the previous range, " + to_text(*ranges.back().up_to));
      return std::nullopt;
    }
    ranges.push_back(*range);
  }
  return ranges;
}

// `accuracy` for all values, or `ranges` with one each.
template <Dimension kDimension>
std::optional<MeterQuantity<Measure<kDimension>>> read_meter_quantity(const Field& field, FindingSink& findings) {
  using Of = MeterQuantity<Measure<kDimension>>;
  using Ranges = std::vector<MeterRange<Measure<kDimension>>>;
  const Section section(field, "`" + std::string(field.key) + "`", {"meter_quantity", meter_keys::kQuantity}, findings);
  if (section.is_sound() && section.has("accuracy") == section.has("ranges")) {
    findings.report(finding::ValueImpossible, section.place(), field.key, section.has("ranges") ? "both" : "neither",
                    "either `accuracy` or `ranges`");
    return std::nullopt;
  }
  return FieldCollector<Of>(section)
      .optional("accuracy", &Of::ranges,
                [&](const Field& given) -> std::optional<Ranges> {
                  const auto accuracy = accuracy_of<kDimension>(given, findings);
                  if (!accuracy) return std::nullopt;
                  return Ranges{{std::nullopt, *accuracy}};
                })
      .optional("ranges", &Of::ranges,
                [&](const Field& given) { return read_meter_ranges<kDimension>(given, findings); })
      .optional("noise", &Of::noise,
                [&](const Field& given) { return read_measure<kDimension>(given, Bound::NotNegative, findings); })
      .result();
}

template <Dimension kDimension>
std::optional<std::optional<MeterQuantity<Measure<kDimension>>>> optional_quantity(const Field& field,
                                                                                   FindingSink& findings) {
  auto quantity = read_meter_quantity<kDimension>(field, findings);
  if (!quantity) return std::nullopt;
  return std::optional(std::move(quantity));
}

// `window`, or `nplc` periods of the mains: 50 Hz where `mains` says nothing else. 0 without any; empty after a
// mistake.
std::optional<Nanoseconds> read_window(const Section& section, FindingSink& findings) {
  section.require_with("mains", "nplc");
  if (section.has("window") && section.has("nplc")) {
    findings.report(finding::ValueImpossible, section.value_place("nplc"), "nplc", "given beside `window`",
                    "one of the two");
    return std::nullopt;
  }
  std::optional<Nanoseconds> window = Nanoseconds{0};
  std::int64_t hertz = 50;
  section.read("mains", [&](const Field& field) {
    const std::optional<std::size_t> choice = read_choice(field, kMains, findings);
    if (!choice) window.reset();
    if (choice == 1) hertz = 60;
  });
  section.read("window", [&](const Field& field) { window = read_nanoseconds(field, Bound::NotNegative, findings); });
  section.read("nplc", [&](const Field& field) {
    const std::optional<Rational> periods = read_quantity(field, dimension::kNone, Bound::Positive, findings);
    if (!window || !periods) {
      window.reset();
      return;
    }
    window = to_nanoseconds(*periods / Rational(hertz));
    if (!window) findings.report(finding::ValueImpossible, field.value->span, "nplc", field.value->text, "shorter");
  });
  return window;
}

}  // namespace

std::optional<Range<Nanoseconds>> read_times(const Field& field, FindingSink& findings) {
  const std::optional<QuantityRange> range = read_range(field, dimension::kTime, Steps::None, findings);
  if (!range) return std::nullopt;
  const Span place = field.value->span;
  const auto low = to_whole_nanoseconds(range->low, place, field.key, findings);
  if (!low) return std::nullopt;
  const auto high = to_whole_nanoseconds(range->high, place, field.key, findings);
  if (!high) return std::nullopt;
  return Range<Nanoseconds>{*low, *high};
}

std::optional<Meter> read_meter(const Section& section, FindingSink& findings) {
  const std::optional<Nanoseconds> window = read_window(section, findings);
  Meter start;
  start.span = section.place();
  if (window) start.window = *window;
  auto meter =
      FieldCollector<Meter>(section, std::move(start))
          .optional("voltage", &Meter::voltage,
                    [&](const Field& given) { return optional_quantity<dimension::kVoltage>(given, findings); })
          .optional("current", &Meter::current,
                    [&](const Field& given) { return optional_quantity<dimension::kCurrent>(given, findings); })
          .optional("latency", &Meter::latency, [&](const Field& given) { return read_times(given, findings); })
          .optional("refresh", &Meter::refresh,
                    [&](const Field& given) { return read_nanoseconds(given, Bound::NotNegative, findings); })
          .optional("point", &Meter::at,
                    [&](const Field& given) -> std::optional<std::optional<MeasuredAt>> {
                      const std::optional<std::size_t> at = read_choice(given, kPoints, findings);
                      if (!at) return std::nullopt;
                      return std::optional(static_cast<MeasuredAt>(*at));
                    })
          .result();
  if (!window) return std::nullopt;
  return meter;
}

}  // namespace rampart
