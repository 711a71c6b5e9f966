#include "compiler/channel_reader.h"

#include "compiler/bench_keys.h"
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

template <Dimension kDimension>
std::optional<Accuracy<Measure<kDimension>>> accuracy_of(const Field& field, FindingSink& findings) {
  const std::optional<QuantityAccuracy> accuracy = read_accuracy(field, kDimension, findings);
  if (!accuracy) return std::nullopt;
  return Accuracy<Measure<kDimension>>{accuracy->fraction, {accuracy->offset}};
}

template <Dimension kDimension>
void check_resolution(const Field& field, const Measure<kDimension>& resolution,
                      const Range<Measure<kDimension>>& range, FindingSink& findings) {
  const Span place = field.value->span;
  const std::string shown = to_text(resolution);
  const Rational width = range.high.si - range.low.si;
  const Rational counts = range.high.si / resolution.si;
  if (!width.overflowed() && resolution.si > width) {
    findings.report(finding::ValueImpossible, place, field.key, shown, "no larger than the range");
  } else if (const Rational ninths = resolution.si * Rational(1'000'000'000);
             ninths.overflowed() || !ninths.is_whole()) {
    findings.report(finding::ValueImpossible, place, field.key, shown, "a number of no more than 9 decimals")
        .hint("round it to " + to_text(Measure<kDimension>{Rational::fraction(1, 1'000'000'000)}));
  } else if (width.overflowed() || counts.overflowed() || counts > Rational(kMaxCounts)) {
    findings.report(finding::ValueImpossible, place, field.key, shown,
                    "no finer than a millionth of a millionth of the range");
  }
}

// `voltage` or `current`: range, resolution, accuracy.
template <Dimension kDimension>
void read_setting(const Section& channel, std::string_view key, Placed<Range<Measure<kDimension>>>& range,
                  Measure<kDimension>& resolution, std::optional<Accuracy<Measure<kDimension>>>& accuracy,
                  FindingSink& findings) {
  const std::optional<Field> field = channel.find(key);
  if (!field) return;
  const Section setting(*field, "`" + std::string(key) + "`", bench_keys::of(std::string(key) + "_setting"), findings);
  setting.require({"range", "resolution"});
  accuracy.reset();
  if (const auto given = setting.find("accuracy")) accuracy = accuracy_of<kDimension>(*given, findings);
  const auto range_field = setting.find("range");
  const auto resolution_field = setting.find("resolution");
  std::optional<Placed<Range<Measure<kDimension>>>> new_range;
  std::optional<Rational> new_resolution;
  if (range_field) new_range = placed_range<kDimension>(*range_field, findings);
  if (resolution_field) new_resolution = read_quantity(*resolution_field, kDimension, Bound::Positive, findings);
  if (new_range) range = *new_range;
  if (new_resolution) resolution.si = *new_resolution;
  if (new_range && new_resolution) check_resolution(*resolution_field, resolution, range.value, findings);
}

void read_slew(const Field& field, Channel& channel, FindingSink& findings) {
  const Section section(field, "`slew`", bench_keys::of("slew"), findings);
  section.require({"up", "down"});
  Slew slew;
  slew.span = field.place;
  if (const auto up = section.find("up")) read_into(slew.up, *up, Bound::Positive, findings);
  if (const auto down = section.find("down")) read_into(slew.down, *down, Bound::Positive, findings);
  channel.slew = slew;
}

void read_thermal(const Field& field, Channel& channel, FindingSink& findings) {
  const Section section(field, "`thermal`", bench_keys::of("thermal"), findings);
  section.require({"internal_supply", "resistance", "time_constant", "ambient", "limit"});
  Thermal thermal;
  thermal.span = field.place;
  if (const auto given = section.find("internal_supply")) {
    read_into(thermal.internal_supply, *given, Bound::Positive, findings);
  }
  if (const auto given = section.find("resistance")) {
    const auto value = read_quantity(*given, dimension::kThermalResistance, Bound::Positive, findings);
    if (value) thermal.resistance = *value;
  }
  if (const auto given = section.find("time_constant")) {
    read_into(thermal.time_constant, *given, Bound::Positive, findings);
  }
  if (const auto given = section.find("ambient")) read_into(thermal.ambient, *given, Bound::Positive, findings);
  if (const auto given = section.find("limit")) read_into(thermal.limit, *given, Bound::Positive, findings);
  channel.thermal = thermal;
  const auto limit = section.find("limit");
  const auto ambient = section.find("ambient");
  if (thermal.limit.si.sign() > 0 && thermal.ambient.si.sign() > 0 && thermal.limit <= thermal.ambient) {
    findings
        .report(finding::ValuesDoNotFit, limit->value->span, "limit", limit->value->text, "ambient",
                ambient->value->text)
        .hint("write a limit above the ambient temperature");
  }
}

void read_sense(const Field& field, Channel& channel, FindingSink& findings) {
  const Section section(field, "`sense`", bench_keys::of("sense"), findings);
  section.require({"remote"});
  channel.remote_sense.reset();
  const auto remote = section.find("remote");
  if (!remote) return;
  const std::optional<bool> is_remote = read_flag(*remote, findings);
  RemoteSense sense;
  if (const auto headroom = section.find("headroom")) {
    read_into(sense.headroom, *headroom, Bound::NotNegative, findings);
    if (is_remote == false) {
      findings.report(finding::ValuesDoNotFit, headroom->place, "headroom", "given", "remote", "no")
          .hint("remove `headroom`");
    }
  }
  if (is_remote != true) return;
  section.require({"headroom"});
  channel.remote_sense = sense;
}

void read_fuse(const Section& section, ProtectionAbilities& protection, FindingSink& findings) {
  constexpr std::array<std::string_view, 2> kWays{"current_limit", "own_current"};
  if (const auto given = section.find("fuse_delay")) {
    protection.fuse_delay = placed_steps<dimension::kTime>(*given, findings);
  }
  if (const auto given = section.find("fuse_delay_accuracy")) {
    protection.fuse_delay_accuracy = accuracy_of<dimension::kTime>(*given, findings);
  }
  const auto current = section.find("fuse_current");
  if (current) protection.fuse_current = placed_steps<dimension::kCurrent>(*current, findings);
  section.require_with("fuse_by", "fuse_delay");
  section.require_with("fuse_delay", "fuse_by");
  section.require_with("fuse_delay_accuracy", "fuse_delay");
  section.require_with("fuse_current", "fuse_by");
  const auto by = section.find("fuse_by");
  const auto way = by ? read_choice(*by, kWays, findings) : std::nullopt;
  if (!way) return;
  protection.fuse_by = static_cast<FuseBy>(*way);
  if (protection.fuse_by == FuseBy::OwnCurrent && !current) {
    findings.report(finding::KeyWithoutOther, by->value->span, section.label(), "fuse_by: own_current", "fuse_current")
        .hint("add the currents that can be set, as in `fuse_current: 0 A .. 3 A step 10 mA`");
  } else if (protection.fuse_by == FuseBy::CurrentLimit && current) {
    findings.report(finding::ValuesDoNotFit, current->place, "fuse_current", "given", "fuse_by", "current_limit")
        .hint("write `fuse_by: own_current`, or remove `fuse_current`");
  }
}

void read_protection(const Field& field, Channel& channel, FindingSink& findings) {
  const Section section(field, "`protection`", bench_keys::of("protection"), findings);
  ProtectionAbilities protection;
  if (const auto given = section.find("overvoltage")) {
    protection.overvoltage = placed_range<dimension::kVoltage>(*given, findings);
  }
  if (const auto given = section.find("overvoltage_accuracy")) {
    protection.overvoltage_accuracy = accuracy_of<dimension::kVoltage>(*given, findings);
  }
  if (const auto given = section.find("overpower")) {
    protection.overpower = placed_range<dimension::kPower>(*given, findings);
  }
  if (const auto given = section.find("overpower_delay")) {
    protection.overpower_delay = placed_steps<dimension::kTime>(*given, findings);
  }
  section.require_with("overvoltage_accuracy", "overvoltage");
  section.require_with("overpower_delay", "overpower");
  read_fuse(section, protection, findings);
  channel.protection = protection;
}

}  // namespace

void read_channel(const Section& section, Channel& channel, FindingSink& findings) {
  OutputLimits& limits = channel.limits;
  read_setting(section, "voltage", limits.voltage, limits.voltage_resolution, limits.voltage_accuracy, findings);
  read_setting(section, "current", limits.current, limits.current_resolution, limits.current_accuracy, findings);
  if (const auto given = section.find("power")) {
    const auto power = read_quantity(*given, dimension::kPower, Bound::Positive, findings);
    if (power) limits.power = Placed<Watts>{{*power}, given->value->span};
  }
  if (const auto given = section.find("slew")) read_slew(*given, channel, findings);
  if (const auto given = section.find("output_capacitance")) {
    read_into(channel.output_capacitance, *given, Bound::NotNegative, findings);
  }
  if (const auto given = section.find("sink")) read_into(channel.sink, *given, Bound::NotNegative, findings);
  if (const auto given = section.find("thermal")) read_thermal(*given, channel, findings);
  if (const auto given = section.find("sense")) read_sense(*given, channel, findings);
  if (const auto given = section.find("off_resistance")) {
    const auto resistance = read_quantity(*given, dimension::kResistance, Bound::Positive, findings);
    if (resistance) channel.off_resistance = Ohms{*resistance};
  }
  if (const auto given = section.find("protection")) read_protection(*given, channel, findings);
}

void check_channel(const Section& section, const Channel& channel, FindingSink& findings) {
  // What it has from the channel that it is like was reported there.
  if (!section.has("thermal") && !section.has("voltage")) return;
  if (!channel.thermal || channel.thermal->internal_supply.si.sign() <= 0) return;
  const Volts highest = channel.limits.voltage.value.high;
  if (channel.thermal->internal_supply >= highest) return;
  // The values may stand in the channel that this one is like; the finding points at the key that made the conflict.
  const auto own = section.find("thermal");
  const Span place = own ? own->place : section.place();
  findings
      .report(finding::ValuesDoNotFit, place, "internal_supply", to_text(channel.thermal->internal_supply), "voltage",
              "up to " + to_text(highest))
      .hint("write the voltage that feeds the output stage, which is above the highest output");
}

}  // namespace rampart
