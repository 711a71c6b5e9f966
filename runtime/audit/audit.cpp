#include "runtime/audit/audit.h"

#include <algorithm>
#include <map>
#include <optional>
#include <set>
#include <vector>

#include "runtime/audit/csv_reader.h"
#include "runtime/audit/table_row.h"

namespace rampart::audit {
namespace {

// The segment of the orderly stop: it begins wherever a trip leaves the channels, so its rows may leave fields empty.
constexpr std::string_view kSafeSegment = "safe";

// Where a row stands: its text is only kept if something is found in it.
struct RowPlace {
  std::uint32_t line = 0;
  std::string text;
};

// What was last said of a channel within the segment.
struct ChannelState {
  bool seen = false;
  Rational time;     // of its last row
  Rational changed;  // of its last row that changed something
  bool has_changed = false;
  Rational voltage;
  Rational current;
  bool output = false;
  RowPlace place;
  // A change that came too soon: no mistake if it is the channel's last row of the segment.
  std::optional<Rational> too_soon;
};

class Auditor {
 public:
  Auditor(const std::string& name, const Bench& bench, SourceSet& sources, FindingSink& findings)
      : name_(name), bench_(bench), sources_(sources), findings_(findings), channels_(bench.channels.size()) {
    for (std::size_t i = 0; i < bench.channels.size(); ++i) by_name_.emplace(bench.channels[i].name, i);
    for (const Supply& supply : bench.supplies) {
      for (const std::string& line : supply.lines) lines_.emplace(supply.name + "." + line, &supply);
    }
  }

  AuditResult run(CsvReader& reader) {
    if (!read_first_line(reader)) {
      result_.read_to_end = !reader.failed();
      return result_;
    }
    while (reader.next()) {
      place_ = {reader.number(), reader.text()};
      ++result_.rows;
      take(reader);
    }
    end_segment();
    result_.read_to_end = !reader.failed();
    return result_;
  }

 private:
  template <class... Arguments>
  void report(const RowPlace& place, const FindingKind<Arguments...>& kind,
              const std::type_identity_t<Arguments>&... arguments) {
    if (reported_ >= kMaxFindings) {
      ++result_.left_out;
      return;
    }
    ++reported_;
    const FileId file = sources_.add(name_, place.text, place.line);
    findings_.report(kind, Span{file, 0, static_cast<std::uint32_t>(place.text.size())}, arguments...);
  }

  bool read_first_line(CsvReader& reader) {
    if (!reader.next()) {
      place_ = {1, ""};
      report(place_, finding::TableEmpty);
      return false;
    }
    place_ = {reader.number(), reader.text()};
    const std::optional<Columns> columns = reader.mistake().empty() ? read_header(reader.fields()) : std::nullopt;
    if (!columns) {
      report(place_, finding::TableHeader);
      return false;
    }
    columns_ = *columns;
    return true;
  }

  void take(const CsvReader& reader) {
    if (!reader.mistake().empty()) {
      report(place_, finding::TableRowBroken, reader.mistake());
      return;
    }
    if (reader.fields().size() != columns_.count()) {
      report(place_, finding::TableFields, static_cast<std::int64_t>(reader.fields().size()),
             static_cast<std::int64_t>(columns_.count()));
      return;
    }
    TableRow row;
    if (const std::optional<FieldMistake> mistake = read_row(reader.fields(), columns_, row)) {
      report(place_, finding::TableField, mistake->text, mistake->column, mistake->wanted);
      return;
    }
    take(row);
  }

  void take(const TableRow& row) {
    if (row.segment != segment_ || !in_segment_) begin_segment(row.segment);
    const auto channel = by_name_.find(row.channel);
    if (channel != by_name_.end()) {
      take_channel_row(row, channel->second);
      return;
    }
    const auto line = lines_.find(row.channel);
    if (line != lines_.end()) {
      take_line_row(row, *line->second);
      return;
    }
    if (unknown_.insert(row.channel).second) report(place_, finding::TableChannel, row.channel);
  }

  void begin_segment(const std::string& segment) {
    end_segment();
    segment_ = segment;
    in_segment_ = true;
    if (!segment.empty() && !segments_.insert(segment).second) report(place_, finding::TableSegment, segment);
    last_time_ = Rational(0);
    last_order_ = 0;
    for (ChannelState& channel : channels_) channel = ChannelState{};
  }

  // Every channel that the segment speaks of has a last row at its end.
  void end_segment() {
    Rational end(0);
    for (const ChannelState& channel : channels_) {
      if (channel.seen) end = std::max(end, channel.time);
    }
    for (std::size_t i = 0; i < channels_.size(); ++i) {
      const ChannelState& channel = channels_[i];
      if (!channel.seen) continue;
      const Rational slack = to_seconds(bench_.supply_of(id(i)).timing.minimum_step);
      if (end - channel.time > slack) {
        report(channel.place, finding::TableEndMissing, bench_.channels[i].name, Seconds{channel.time}, Seconds{end});
      }
    }
  }

  static ChannelId id(std::size_t index) { return ChannelId{static_cast<std::uint32_t>(index)}; }

  // Rows come by time, then in the bench's order of channels, then lines. False if this one does not.
  bool in_order(const TableRow& row, std::size_t order) {
    const bool ordered = row.time > last_time_ || (row.time == last_time_ && order >= last_order_);
    if (!ordered) report(place_, finding::TableOrder, Seconds{row.time}, Seconds{last_time_});
    if (ordered) {
      last_time_ = row.time;
      last_order_ = order;
    }
    return ordered;
  }

  void take_line_row(const TableRow& row, const Supply& supply) {
    if (row.voltage || row.current) report(place_, finding::TableLineSetpoint, row.channel);
    if (!row.output) report(place_, finding::TableField, "", "output", "0 or 1");
    check_grid(row, supply);
    static_cast<void>(in_order(row, channels_.size()));
  }

  void take_channel_row(const TableRow& row, std::size_t index) {
    const Channel& channel = bench_.channels[index];
    ChannelState& state = channels_[index];
    const bool complete = row.voltage && row.current && row.output;
    if (!complete && segment_ != kSafeSegment) {
      report(place_, finding::TableNoSetpoint, row.channel);
      return;
    }
    check_grid(row, bench_.supply_of(id(index)));
    check_setpoints(row, channel);
    if (!in_order(row, index)) return;
    check_pace(row, state, bench_.supply_of(id(index)));
    state.seen = true;
    state.time = row.time;
    state.voltage = row.voltage.value_or(state.voltage);
    state.current = row.current.value_or(state.current);
    state.output = row.output.value_or(state.output);
    state.place = place_;
    check_power(state, channel);
  }

  void check_grid(const TableRow& row, const Supply& supply) {
    const Rational resolution = to_seconds(supply.timing.resolution);
    if ((row.time / resolution).is_whole()) return;
    report(place_, finding::TableOffGrid, Seconds{row.time}, supply.timing.resolution);
  }

  // A rail may be wired the other way round, so the sign of a voltage says nothing about the channel.
  void check_setpoints(const TableRow& row, const Channel& channel) {
    if (row.voltage) check_voltage(*row.voltage, channel.limits);
    if (row.current) check_current(*row.current, channel.limits);
    const bool no_limit = row.current && row.current->sign() == 0 && row.output == true;
    if (no_limit) report(place_, finding::TableNoLimit, channel.name);
  }

  void check_voltage(const Rational& value, const OutputLimits& limits) {
    const Volts voltage{abs(value)};
    if (!limits.voltage.value.contains(voltage)) {
      report(place_, finding::TableVoltageRange, Volts{value}, limits.voltage.value.low, limits.voltage.value.high);
    } else if (!(voltage.si / limits.voltage_resolution.si).is_whole()) {
      report(place_, finding::TableOffCount, voltage.quantity(), limits.voltage_resolution.quantity());
    }
  }

  // 0 A: no limit was set.
  void check_current(const Rational& value, const OutputLimits& limits) {
    const Amps current{value};
    if (value.sign() != 0 && !limits.current.value.contains(current)) {
      report(place_, finding::TableCurrentRange, current, limits.current.value.low, limits.current.value.high);
    } else if (!(current.si / limits.current_resolution.si).is_whole()) {
      report(place_, finding::TableOffCount, current.quantity(), limits.current_resolution.quantity());
    }
  }

  void check_pace(const TableRow& row, ChannelState& state, const Supply& supply) {
    if (!state.seen) {
      const bool late = row.time.sign() != 0 && segment_ != kSafeSegment;
      if (late) report(place_, finding::TableStartMissing, row.channel, Seconds{row.time});
      return;
    }
    if (row.time == state.time) {
      report(place_, finding::TableDuplicate, row.channel, Seconds{row.time});
      return;
    }
    if (state.too_soon) {
      report(state.place, finding::TableTooSoon, row.channel, Seconds{*state.too_soon}, supply.timing.minimum_step);
      state.too_soon.reset();
    }
    const bool linear = supply.timing.interpolation == Interpolation::Linear;
    const bool changes = *row.voltage != state.voltage || *row.current != state.current || row.output != state.output;
    if (!changes && !linear) return;
    const Rational since = row.time - (state.has_changed ? state.changed : Rational(0));
    if (since < to_seconds(supply.timing.minimum_step) && (state.has_changed || state.output)) state.too_soon = since;
    state.changed = row.time;
    state.has_changed = true;
  }

  // What is set may ask for more than the channel, or the supply as a whole, can give.
  void check_power(const ChannelState& now, const Channel& channel) {
    const Rational power = abs(now.voltage) * now.current;
    if (now.output && channel.limits.power && Watts{power} > channel.limits.power->value &&
        over_envelope_.insert(channel.name).second) {
      report(place_, finding::TableEnvelope, channel.name, Watts{power}, channel.limits.power->value);
    }
    const Supply& supply = bench_[channel.supply];
    if (!supply.power) return;
    Rational sum(0);
    for (const ChannelId member : supply.channels) {
      const ChannelState& state = channels_[static_cast<std::size_t>(member)];
      if (state.seen && state.output) sum = sum + abs(state.voltage) * state.current;
    }
    if (Watts{sum} > supply.power->value && over_budget_.insert(supply.name).second) {
      report(place_, finding::TableBudget, supply.name, Watts{sum}, supply.power->value);
    }
  }

  const std::string& name_;
  const Bench& bench_;
  SourceSet& sources_;
  FindingSink& findings_;
  std::map<std::string, std::size_t, std::less<>> by_name_;
  std::map<std::string, const Supply*, std::less<>> lines_;
  std::vector<ChannelState> channels_;
  Columns columns_;
  std::string segment_;
  bool in_segment_ = false;
  std::set<std::string, std::less<>> segments_;
  std::set<std::string, std::less<>> unknown_;        // channels that the bench lacks, each reported once
  std::set<std::string, std::less<>> over_envelope_;  // reported once a channel
  std::set<std::string, std::less<>> over_budget_;    // once a supply
  Rational last_time_;
  std::size_t last_order_ = 0;
  RowPlace place_;
  std::int64_t reported_ = 0;
  AuditResult result_;
};

}  // namespace

AuditResult audit_csv(std::FILE* stream, const std::string& name, const Bench& bench, SourceSet& sources,
                      FindingSink& findings) {
  CsvReader reader(stream);
  return Auditor(name, bench, sources, findings).run(reader);
}

}  // namespace rampart::audit
