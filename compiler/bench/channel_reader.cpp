#include "compiler/bench/channel_reader.h"

#include "compiler/bench/accuracy_field.h"
#include "compiler/bench/bench_keys.h"
#include "compiler/bench/readback.h"
#include "compiler/yaml/field_collector.h"
#include "lang/findings/files.h"

namespace rampart {
namespace {

// Counts are 64-bit integers; this leaves room to multiply them by times.
constexpr std::int64_t kMaxCounts = 1'000'000'000'000;

template <Dimension kDimension>
std::optional<Placed<Range<Measure<kDimension>>>> placed_range(const Field& field, FindingSink& findings) {
  const std::optional<QuantityRange> range = read_range(field, kDimension, Steps::None, findings);
  if (!range) return std::nullopt;
  return Placed<Range<Measure<kDimension>>>{{{range->low}, {range->high}}, field.value->span};
}

template <Dimension kDimension>
std::optional<Placed<SteppedRange<Measure<kDimension>>>> placed_steps(const Field& field, FindingSink& findings) {
  const std::optional<QuantityRange> range = read_range(field, kDimension, Steps::Allowed, findings);
  if (!range) return std::nullopt;
  return Placed<SteppedRange<Measure<kDimension>>>{{{{range->low}, {range->high}}, {range->step}}, field.value->span};
}

// `voltage` or `current`: range, resolution, accuracy.
template <Dimension kDimension>
struct Setting {
  Placed<Range<Measure<kDimension>>> range;
  Measure<kDimension> resolution;
  std::optional<Accuracy<Measure<kDimension>>> accuracy;
};

template <Dimension kDimension>
void check_resolution(const Setting<kDimension>& setting, const Span& place, FindingSink& findings) {
  constexpr std::string_view kKey = "resolution";
  const Rational& step = setting.resolution.si;
  const std::string shown = to_text(setting.resolution);
  const Rational width = setting.range.value.high.si - setting.range.value.low.si;
  const Rational counts = setting.range.value.high.si / step;
  if (!width.overflowed() && step > width) {
    findings.report(finding::ValueImpossible, place, kKey, shown, "no larger than the range");
  } else if (const Rational ninths = step * Rational(1'000'000'000); ninths.overflowed() || !ninths.is_whole()) {
    findings.report(finding::ValueImpossible, place, kKey, shown, "a number of no more than 9 decimals")
        .hint("round it to " + to_text(Measure<kDimension>{Rational::fraction(1, 1'000'000'000)}));
  } else if (width.overflowed() || counts.overflowed() || counts > Rational(kMaxCounts)) {
    findings.report(finding::ValueImpossible, place, kKey, shown,
                    "no finer than a millionth of a millionth of the range");
  }
}

template <Dimension kDimension>
std::optional<Setting<kDimension>> read_setting(const Field& field, FindingSink& findings) {
  using Of = Setting<kDimension>;
  const std::string key(field.key);
  const Section section(field, "`" + key + "`", bench_keys::of(key + "_setting"), findings);
  return FieldCollector<Of>(section)
      .required("range", &Of::range, [&](const Field& range) { return placed_range<kDimension>(range, findings); })
      .required("resolution", &Of::resolution,
                [&](const Field& step) { return read_measure<kDimension>(step, Bound::Positive, findings); })
      .optional("accuracy", &Of::accuracy,
                [&](const Field& accuracy) { return accuracy_of<kDimension>(accuracy, findings); })
      .check([&](const Of& setting) { check_resolution(setting, section.value_place("resolution"), findings); })
      .result();
}

std::optional<Slew> read_slew(const Field& field, FindingSink& findings) {
  const Section section(field, "`slew`", bench_keys::of("slew"), findings);
  const auto rate = [&](const Field& given) {
    return read_measure<dimension::kVoltageRate>(given, Bound::Positive, findings);
  };
  return FieldCollector<Slew>(section, {{}, {}, field.place})
      .required("up", &Slew::up, rate)
      .required("down", &Slew::down, rate)
      .result();
}

std::optional<Thermal> read_thermal(const Field& field, FindingSink& findings) {
  const Section section(field, "`thermal`", bench_keys::of("thermal"), findings);
  const auto temperature = [&](const Field& given) {
    return read_measure<dimension::kTemperature>(given, Bound::Positive, findings);
  };
  Thermal start;
  start.span = field.place;
  return FieldCollector<Thermal>(section, std::move(start))
      .required("internal_supply", &Thermal::internal_supply,
                [&](const Field& given) { return read_measure<dimension::kVoltage>(given, Bound::Positive, findings); })
      .required("resistance", &Thermal::resistance,
                [&](const Field& given) {
                  return read_quantity(given, dimension::kThermalResistance, Bound::Positive, findings);
                })
      .required("time_constant", &Thermal::time_constant,
                [&](const Field& given) { return read_measure<dimension::kTime>(given, Bound::Positive, findings); })
      .required("ambient", &Thermal::ambient, temperature)
      .required("limit", &Thermal::limit, temperature)
      .check([&](const Thermal& thermal) {
        if (thermal.limit > thermal.ambient) return;
        findings
            .report(finding::ValuesDoNotFit, section.value_place("limit"), "limit", section.text("limit"), "ambient",
                    section.text("ambient"))
            .hint("write a limit above the ambient temperature");
      })
      .result();
}

// Empty for a channel that senses at its own terminals, and after a mistake.
std::optional<RemoteSense> read_sense(const Field& field, FindingSink& findings) {
  struct Given {
    bool remote = false;
    std::optional<Volts> headroom;
  };
  const Section section(field, "`sense`", bench_keys::of("sense"), findings);
  const std::optional<Given> given =
      FieldCollector<Given>(section)
          .required("remote", &Given::remote, [&](const Field& flag) { return read_flag(flag, findings); })
          .optional(
              "headroom", &Given::headroom,
              [&](const Field& volts) { return read_measure<dimension::kVoltage>(volts, Bound::Positive, findings); })
          .result();
  if (!given) return std::nullopt;
  if (given->remote && given->headroom) return RemoteSense{*given->headroom};
  if (given->remote) section.require({"headroom"});
  if (!given->remote && given->headroom) {
    section.read("headroom", [&](const Field& headroom) {
      findings.report(finding::ValuesDoNotFit, headroom.place, "headroom", "given", "remote", "no")
          .hint("remove `headroom`");
    });
  }
  return std::nullopt;
}

void check_fuse(const Section& section, const ProtectionAbilities& protection, FindingSink& findings) {
  section.require_with("fuse_by", "fuse_delay");
  section.require_with("fuse_delay", "fuse_by");
  section.require_with("fuse_delay_accuracy", "fuse_delay");
  section.require_with("fuse_current", "fuse_by");
  if (protection.fuse_by == FuseBy::OwnCurrent && !section.has("fuse_current")) {
    findings
        .report(finding::KeyWithoutOther, section.value_place("fuse_by"), section.label(), "fuse_by: own_current",
                "fuse_current")
        .hint("add the currents that can be set, as in `fuse_current: 0 A .. 2.5 A step 10 mA`");
  } else if (protection.fuse_by == FuseBy::CurrentLimit) {
    section.read("fuse_current", [&](const Field& current) {
      findings.report(finding::ValuesDoNotFit, current.place, "fuse_current", "given", "fuse_by", "current_limit")
          .hint("write `fuse_by: own_current`, or remove `fuse_current`");
    });
  }
}

std::optional<ProtectionAbilities> read_protection(const Field& field, FindingSink& findings) {
  using Of = ProtectionAbilities;
  constexpr std::array<std::string_view, 2> kWays{"current_limit", "own_current"};
  const Section section(field, "`protection`", bench_keys::of("protection"), findings);
  const auto delay = [&](const Field& given) { return placed_steps<dimension::kTime>(given, findings); };
  FieldCollector<Of> collector(section);
  collector
      .optional("overvoltage", &Of::overvoltage,
                [&](const Field& given) { return placed_range<dimension::kVoltage>(given, findings); })
      .optional("overvoltage_accuracy", &Of::overvoltage_accuracy,
                [&](const Field& given) { return accuracy_of<dimension::kVoltage>(given, findings); })
      .optional("overpower", &Of::overpower,
                [&](const Field& given) { return placed_range<dimension::kPower>(given, findings); })
      .optional("overpower_delay", &Of::overpower_delay, delay)
      .optional("fuse_delay", &Of::fuse_delay, delay)
      .optional("fuse_delay_accuracy", &Of::fuse_delay_accuracy,
                [&](const Field& given) { return accuracy_of<dimension::kTime>(given, findings); })
      .optional("fuse_current", &Of::fuse_current,
                [&](const Field& given) { return placed_steps<dimension::kCurrent>(given, findings); })
      .optional("fuse_by", &Of::fuse_by,
                [&](const Field& given) { return read_one_of<FuseBy>(given, kWays, findings); });
  section.require_with("overvoltage_accuracy", "overvoltage");
  section.require_with("overpower_delay", "overpower");
  collector.check([&](const Of& protection) { check_fuse(section, protection, findings); });
  return collector.result();
}

// Puts what `read` makes of the value of `key` into `out`; an absent key leaves what stands there, a wrong value too.
template <class Out, class Read>
void read_into(Out& out, const Section& section, std::string_view key, const Read& read) {
  section.read(key, [&](const Field& field) {
    if (auto value = read(field)) out = *std::move(value);
  });
}

}  // namespace

void read_channel(const Section& section, Channel& channel, FindingSink& findings) {
  OutputLimits& limits = channel.limits;
  section.read("voltage", [&](const Field& field) {
    if (const auto setting = read_setting<dimension::kVoltage>(field, findings)) {
      limits.voltage = setting->range;
      limits.voltage_resolution = setting->resolution;
      limits.voltage_accuracy = setting->accuracy;
    }
  });
  section.read("current", [&](const Field& field) {
    if (const auto setting = read_setting<dimension::kCurrent>(field, findings)) {
      limits.current = setting->range;
      limits.current_resolution = setting->resolution;
      limits.current_accuracy = setting->accuracy;
    }
  });
  read_into(limits.power, section, "power", [&](const Field& field) -> std::optional<Placed<Watts>> {
    const auto power = read_measure<dimension::kPower>(field, Bound::Positive, findings);
    if (!power) return std::nullopt;
    return Placed<Watts>{*power, field.value->span};
  });
  read_into(channel.slew, section, "slew", [&](const Field& field) { return read_slew(field, findings); });
  read_into(channel.output_capacitance, section, "output_capacitance", [&](const Field& field) {
    return read_measure<dimension::kCapacitance>(field, Bound::NotNegative, findings);
  });
  read_into(channel.sink, section, "sink",
            [&](const Field& field) { return read_measure<dimension::kCurrent>(field, Bound::NotNegative, findings); });
  read_into(channel.thermal, section, "thermal", [&](const Field& field) { return read_thermal(field, findings); });
  section.read("sense", [&](const Field& field) { channel.remote_sense = read_sense(field, findings); });
  read_into(channel.off_resistance, section, "off_resistance",
            [&](const Field& field) { return read_measure<dimension::kResistance>(field, Bound::Positive, findings); });
  read_into(channel.protection, section, "protection",
            [&](const Field& field) { return read_protection(field, findings); });
  // Only a log asks for it: see readback.h.
  section.read("readback", [&](const Field& field) { static_cast<void>(read_readback(field, findings)); });
}

void check_channel(const Section& section, const Channel& channel, FindingSink& findings) {
  // What it has from the channel that it is like was reported there.
  if (!section.has("thermal") && !section.has("voltage")) return;
  if (!channel.thermal) return;
  const Volts highest = channel.limits.voltage.value.high;
  if (channel.thermal->internal_supply >= highest) return;
  // The values may stand in the channel that this one is like; the finding points at the key that made the conflict.
  Span place = section.place();
  section.read("thermal", [&](const Field& thermal) { place = thermal.place; });
  findings
      .report(finding::ValuesDoNotFit, place, "internal_supply", to_text(channel.thermal->internal_supply), "voltage",
              "up to " + to_text(highest))
      .hint("write the voltage that feeds the output stage, which is above the highest output");
}

}  // namespace rampart
