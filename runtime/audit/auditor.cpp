#include "runtime/audit/auditor.h"

#include <algorithm>
#include <cmath>

#include "compiler/export/decimal.h"
#include "lang/findings/tables.h"

namespace rampart::audit {
namespace {

// The segment of the orderly stop: it begins wherever a trip leaves the channels, so its rows may leave fields empty.
constexpr std::string_view kSafeSegment = "safe";

ChannelId id(std::size_t index) {
  return ChannelId{static_cast<std::uint32_t>(index)};
}

// Whether value / step is a whole number, without its lowest terms where the products fit.
bool is_multiple(const Rational& value, const Rational& step) {
  Int128 above = 0;
  Int128 below = 0;
  if (__builtin_mul_overflow(value.numerator(), step.denominator(), &above) ||
      __builtin_mul_overflow(value.denominator(), step.numerator(), &below)) {
    return (value / step).is_whole();
  }
  return below != 0 && above % below == 0;
}

// A time as a table writes it: rounded, one that is just off the grid would seem to be on it.
std::string exact_text(const Rational& time) {
  const std::optional<std::string> text = exact_decimal(time);
  return text ? *text + " s" : to_text(Seconds{time});
}

// "1 more row", "1,234 more rows".
std::string counted_more(std::int64_t count) {
  std::string digits = std::to_string(count);
  for (std::size_t i = digits.size(); i > 3; i -= 3) digits.insert(i - 3, ",");
  return digits + (count == 1 ? " more row" : " more rows");
}

// A power that was worked out in doubles, without the digits that these do not have.
Watts watts(double power) {
  return Watts{Rational::fraction(std::llround(power * 1e6), 1'000'000)};
}

}  // namespace

Auditor::Auditor(const std::string& name, const Bench& bench, SourceSet& sources, FindingSink& findings)
    : name_(name),
      bench_(bench),
      sources_(sources),
      findings_(findings),
      channels_(bench.channels.size()),
      was_on_(bench.channels.size()) {
  for (std::size_t i = 0; i < bench.channels.size(); ++i) by_name_.emplace(bench.channels[i].name, i);
  for (const Supply& supply : bench.supplies) {
    paces_.push_back({to_seconds(supply.timing.resolution), to_seconds(supply.timing.minimum_step)});
    for (const std::string& line : supply.lines) lines_.emplace(supply.name + "." + line, &supply);
    budgets_.push_back(supply.power ? std::optional<PowerWatch>(supply) : std::nullopt);
  }
}

// Empty past the bound of findings.
std::optional<Span> Auditor::span_of(const RowPlace& place) {
  if (reported_ >= kMaxFindings) {
    ++result_.left_out;
    return std::nullopt;
  }
  ++reported_;
  const FileId file = sources_.add(name_, place.text, place.line);
  return Span{file, 0, static_cast<std::uint32_t>(place.text.size())};
}

void Auditor::hold_to_ceilings(const Record& record) {
  for (const RecordedRail& rail : record.rails) {
    if (!rail.ceiling) continue;
    CeilingWatch watch{rail.rail, {}, rail.in_series, abs(*rail.ceiling)};
    for (const std::string& channel : rail.channels) {
      const auto found = by_name_.find(channel);
      if (found != by_name_.end()) watch.members.push_back(found->second);
    }
    ceilings_.push_back(std::move(watch));
  }
}

std::size_t Auditor::order_of(const std::string& channel) const {
  const auto found = by_name_.find(channel);
  return found != by_name_.end() ? found->second : channels_.size();
}

void Auditor::take(const TableRow& row) {
  if (row.segment != segment_ || !in_segment_) begin_segment(row.segment);
  has_rows_ = true;
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
  if (unknown_.insert(row.channel).second) report(finding::TableChannel, row.channel);
}

void Auditor::begin_segment(const std::string& segment) {
  end_segment();
  segment_ = segment;
  in_segment_ = true;
  has_rows_ = false;
  if (!segment.empty()) check_turn(segment);
  last_time_ = Rational(0);
  last_order_ = 0;
  for (ChannelState& channel : channels_) channel = ChannelState{};
}

// Segments are counted from 1; `safe` comes after them.
void Auditor::check_turn(const std::string& segment) {
  if (!segments_.insert(segment).second) {
    report(finding::TableSegment, segment);
    return;
  }
  const std::string next = std::to_string(number_ + 1);
  const bool is_safe = segment == kSafeSegment;
  if (is_over_) {
    report(finding::TableSegmentGap, segment, "none");
  } else if (is_safe && number_ > 0) {
    if (waits_) report(finding::TableSegmentMissing, std::to_string(number_));
  } else if (segment != next) {
    report(finding::TableSegmentGap, segment, "segment `" + next + "`");
  }
  is_over_ = is_over_ || is_safe;
  waits_ = false;
  if (is_safe) return;
  const std::optional<Rational> number = segment.size() < 10 ? read_number(segment) : std::nullopt;
  number_ =
      number && number->is_whole() && number->sign() > 0 ? static_cast<std::int64_t>(number->floor()) : number_ + 1;
}

void Auditor::close_segment(const std::optional<Rational>& duration, bool waits) {
  if (!has_rows_) report(finding::TableNoRows, "segment");
  waits_ = waits;
  if (!duration || !has_rows_) return;
  Rational end(0);
  Rational slack(0);
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    if (!channels_[i].seen) continue;
    const Timing& timing = bench_.supply_of(id(i)).timing;
    end = std::max(end, channels_[i].time);
    slack = std::max({slack, to_seconds(timing.minimum_step), to_seconds(timing.resolution)});
  }
  if (abs(end - *duration) > slack) report(finding::TableDuration, segment_, Seconds{*duration}, Seconds{end});
}

void Auditor::end_table() {
  end_segment();
  if (waits_ && !is_over_) report(finding::TableSegmentMissing, std::to_string(number_));
  if (result_.rows == 0 && segments_.empty()) report(finding::TableNoRows, "table");
}

// What several rows set together is judged once all of them are there.
void Auditor::end_instant() {
  for (CeilingWatch& watch : ceilings_) {
    if (watch.is_touched && !watch.is_reported) check_ceiling(watch);
    watch.is_touched = false;
  }
}

// In series the channels' voltages add up; else each is the rail's. Channels that nothing is known of count as 0 V.
void Auditor::check_ceiling(CeilingWatch& watch) {
  Rational voltage;
  const RowPlace* place = nullptr;
  for (const std::size_t member : watch.members) {
    const ChannelState& state = channels_[member];
    if (!state.seen) continue;
    voltage = watch.in_series ? voltage + abs(state.voltage) : std::max(voltage, abs(state.voltage));
    place = &state.place;
  }
  if (place == nullptr || voltage <= watch.ceiling) return;
  watch.is_reported = true;
  report_at(*place, finding::TableCeiling, watch.rail, Volts{voltage}, Volts{watch.ceiling});
}

// Every channel that the segment speaks of has a last row at its end.
void Auditor::end_segment() {
  end_instant();
  for (std::size_t i = 0; i < budgets_.size(); ++i) {
    if (!budgets_[i]) continue;
    report_budget(bench_.supplies[i], budgets_[i]->end_segment());
    budgets_[i]->begin_segment();
  }
  Rational end(0);
  Rational coarsest(0);
  Rational latest_arrival(0);  // after the end, where a `linear` channel jumps just before it
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    if (!channels_[i].seen) continue;
    end = std::max(end, channels_[i].time);
    const Timing& timing = bench_.supply_of(id(i)).timing;
    coarsest = std::max(coarsest, to_seconds(timing.resolution));
    if (timing.interpolation != Interpolation::Linear) continue;
    latest_arrival = std::max(latest_arrival, to_seconds(timing.minimum_step));
  }
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    const ChannelState& channel = channels_[i];
    if (!channel.seen) continue;
    // Each rounds the end to its own grid, and one of its last steps may fill a minimum step.
    const Timing& timing = bench_.supply_of(id(i)).timing;
    const Rational slack =
        std::max(to_seconds(timing.minimum_step), to_seconds(timing.resolution) + coarsest + latest_arrival);
    if (end - channel.time > slack) {
      report_at(channel.place, finding::TableEndMissing, bench_.channels[i].name, Seconds{channel.time}, Seconds{end});
    }
  }
}

// Rows come by time, then in the bench's order of channels, then lines. False if this one does not.
bool Auditor::in_order(const TableRow& row, std::size_t order) {
  const bool ordered = row.time > last_time_ || (row.time == last_time_ && order >= last_order_);
  if (!ordered) report_row("", finding::TableOrder, Seconds{row.time}, Seconds{last_time_});
  if (ordered) {
    if (row.time > last_time_) end_instant();
    last_time_ = row.time;
    last_order_ = order;
  }
  return ordered;
}

void Auditor::take_line_row(const TableRow& row, const Supply& supply) {
  if (row.voltage || row.current) report_row(row.channel, finding::TableLineSetpoint, row.channel);
  if (!row.output) report_row("output", finding::TableField, "", "output", "0 or 1");
  const auto level = levels_.find(row.channel);
  const bool held = row.of_instant && level != levels_.end() && row.output == level->second;
  if (!held) check_grid(row, supply);
  if (row.output) levels_[row.channel] = *row.output;
  static_cast<void>(in_order(row, channels_.size()));
}

void Auditor::take_channel_row(const TableRow& row, std::size_t index) {
  const Channel& channel = bench_.channels[index];
  ChannelState& state = channels_[index];
  const bool complete = row.voltage && row.current && row.output;
  if (!complete && segment_ != kSafeSegment) {
    report_row(row.channel, finding::TableNoSetpoint, row.channel);
    return;
  }
  // A channel that holds may be shown at the instants of another, which are on that one's grid.
  const Supply& supply = bench_.supply_of(id(index));
  const bool holds = supply.timing.interpolation == Interpolation::Hold;
  const bool held = row.of_instant && holds && state.seen && !changes(row, state);
  if (!held) check_grid(row, supply);
  check_setpoints(row, channel);
  if (!in_order(row, index)) return;
  check_pace(row, state, supply);
  const bool runs = state.seen && !holds && channel.limits.power;
  const std::optional<SetFrom> before = runs ? std::optional(set_from(state)) : std::nullopt;
  // How `safe` finds an output it does not know: it may be on if the run had it on.
  state.may_be_on = row.output.value_or(state.seen ? state.may_be_on : was_on_[index]);
  was_on_[index] = was_on_[index] || state.may_be_on;
  state.seen = true;
  state.time = row.time;
  state.voltage = row.voltage.value_or(state.voltage);
  state.current = row.current.value_or(state.current);
  state.output = row.output.value_or(state.output);
  state.knows_voltage = state.knows_voltage || row.voltage;
  state.knows_current = state.knows_current || row.current;
  state.place = place_;
  for (CeilingWatch& watch : ceilings_) {
    const bool is_member = std::find(watch.members.begin(), watch.members.end(), index) != watch.members.end();
    watch.is_touched = watch.is_touched || (is_member && row.voltage.has_value());
  }
  check_envelope(before, state, channel);
  check_power(state, index);
}

const Auditor::Pace& Auditor::pace_of(const Supply& supply) const {
  return paces_[static_cast<std::size_t>(&supply - bench_.supplies.data())];
}

void Auditor::check_grid(const TableRow& row, const Supply& supply) {
  if (is_multiple(row.time, pace_of(supply).resolution)) return;
  report_row(supply.name, finding::TableOffGrid, exact_text(row.time), supply.timing.resolution, supply.name);
}

// A negative rail is a channel connected the other way round: the channel itself is set to a positive voltage.
void Auditor::check_setpoints(const TableRow& row, const Channel& channel) {
  if (row.voltage) check_voltage(*row.voltage, channel);
  if (row.current) check_current(*row.current, channel);
  const bool no_limit = row.current && row.current->sign() == 0 && row.output == true;
  if (no_limit) report_row(channel.name, finding::TableNoLimit, channel.name);
}

void Auditor::report_alike() {
  std::vector<Finding> found;
  for (auto& [key, alike] : alike_) {
    if (!alike.first) {
      result_.left_out += alike.more;
      continue;
    }
    if (alike.more > 0) alike.first->message += ", and " + counted_more(alike.more) + " like it";
    found.push_back(std::move(*alike.first));
  }
  findings_.append(std::move(found));
}

void Auditor::check_voltage(const Rational& value, const Channel& channel) {
  const OutputLimits& limits = channel.limits;
  const Volts voltage{value};
  const Range<Volts>& range = limits.voltage.value;
  if (!range.contains(voltage)) {
    report_row(channel.name, finding::TableVoltageRange, channel.name, voltage, range.low, range.high);
  } else if (!is_multiple(voltage.si, limits.voltage_resolution.si)) {
    report_row(channel.name + " V", finding::TableOffCount, channel.name, voltage.quantity(),
               limits.voltage_resolution.quantity());
  }
}

// 0 A: no limit was set.
void Auditor::check_current(const Rational& value, const Channel& channel) {
  const OutputLimits& limits = channel.limits;
  const Amps current{value};
  const Range<Amps>& range = limits.current.value;
  if (value.sign() != 0 && !range.contains(current)) {
    report_row(channel.name, finding::TableCurrentRange, channel.name, current, range.low, range.high);
  } else if (!is_multiple(current.si, limits.current_resolution.si)) {
    report_row(channel.name + " A", finding::TableOffCount, channel.name, current.quantity(),
               limits.current_resolution.quantity());
  }
}

bool Auditor::changes(const TableRow& row, const ChannelState& state) {
  return (row.voltage && *row.voltage != state.voltage) || (row.current && *row.current != state.current) ||
         (row.output && *row.output != state.output);
}

void Auditor::check_pace(const TableRow& row, ChannelState& state, const Supply& supply) {
  if (!state.seen) {
    const bool late = row.time.sign() != 0 && segment_ != kSafeSegment;
    if (late) report(finding::TableStartMissing, row.channel, Seconds{row.time});
    return;
  }
  if (row.time == state.time) {
    report_row(row.channel, finding::TableDuplicate, row.channel, Seconds{row.time});
    return;
  }
  if (state.too_soon) {
    report_row_at(state.place, row.channel, finding::TableTooSoon, row.channel, Seconds{*state.too_soon},
                  supply.timing.minimum_step);
    state.too_soon.reset();
  }
  const bool linear = supply.timing.interpolation == Interpolation::Linear;
  if (!changes(row, state) && !linear) return;
  const Rational since = row.time - (state.has_changed ? state.changed : Rational(0));
  if (since < pace_of(supply).minimum_step && (state.has_changed || state.output)) state.too_soon = since;
  state.changed = row.time;
  state.has_changed = true;
}

// What is not known of a channel brings nothing: it stays so until it is set, and then is that at once.
bool Auditor::counts(const ChannelState& state) {
  return state.may_be_on && state.knows_voltage && state.knows_current;
}

SetFrom Auditor::set_from(const ChannelState& state) {
  return {state.time.to_double(), abs(state.voltage).to_double(), state.current.to_double(), counts(state),
          state.place};
}

// What is set may ask for more than the channel can give, on a `linear` supply also on the way from the row before.
void Auditor::check_envelope(const std::optional<SetFrom>& before, const ChannelState& now, const Channel& channel) {
  if (!channel.limits.power || over_envelope_.count(channel.name) != 0) return;
  const Watts& bound = channel.limits.power->value;
  const Watts power{abs(now.voltage) * now.current};
  if (counts(now) && power > bound) {
    over_envelope_.insert(channel.name);
    report(finding::TableEnvelope, channel.name, power, bound);
    return;
  }
  if (!before) return;
  const Watts between = watts(most_power_between(*before, set_from(now)));
  if (between <= bound) return;
  over_envelope_.insert(channel.name);
  report_at(before->place, finding::TableEnvelope, channel.name, between, bound);
}

void Auditor::check_power(const ChannelState& now, std::size_t index) {
  const auto supply = static_cast<std::size_t>(bench_.channels[index].supply);
  if (budgets_[supply]) report_budget(bench_.supplies[supply], budgets_[supply]->take(id(index), set_from(now)));
}

void Auditor::report_budget(const Supply& supply, const std::optional<MostPower>& most) {
  if (most) report_at(most->place, finding::TableBudget, supply.name, watts(most->power), supply.power->value);
}

}  // namespace rampart::audit
