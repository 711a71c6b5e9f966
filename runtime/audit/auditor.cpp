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

// A time as a table writes it: rounded, one that is just off the grid would seem to be on it.
std::string exact_text(const TableNumber& time) {
  const std::optional<std::string> text = exact_decimal(time.value());
  return text ? *text + " s" : to_text(Seconds{time.value()});
}

Seconds seconds(const TableNumber& time) {
  return Seconds{time.value()};
}

// "1 more row", "1,234 more rows".
std::string counted_more(std::int64_t count) {
  std::string digits = std::to_string(count);
  for (std::size_t i = digits.size(); i > 3; i -= 3) digits.insert(i - 3, ",");
  return digits + (count == 1 ? " more row" : " more rows");
}

// "voltage", "voltage and current".
std::string missing_of(const TableRow& row) {
  std::string text;
  const auto add = [&text](bool is_there, std::string_view name) {
    if (is_there) return;
    text += (text.empty() ? "" : " and ") + std::string(name);
  };
  add(row.voltage.has_value(), "voltage");
  add(row.current.has_value(), "current");
  add(row.output.has_value(), "output");
  return text;
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
      was_on_(bench.channels.size()),
      thresholds_(bench.channels.size()) {
  for (const Channel& channel : bench.channels) {
    by_name_.emplace(channel.name, bounds_.size());
    bounds_.emplace_back(channel.limits);
  }
  for (const Supply& supply : bench.supplies) {
    paces_.emplace_back(supply.timing);
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
  const FileId file = sources_.add(name_, std::string(place.text), place.line);
  return Span{file, 0, static_cast<std::uint32_t>(place.text.size())};
}

void Auditor::hold_to_setup(const Record& record) {
  if (record.has_setup) {
    set_up_.emplace(record.lines.begin(), record.lines.end());
    for (const RecordedChannel& channel : record.channels) {
      set_up_->insert(channel.channel);
      const auto found = by_name_.find(channel.channel);
      if (found != by_name_.end() && channel.overvoltage)
        thresholds_[found->second] = TableNumber(*channel.overvoltage);
    }
  }
  for (const RecordedRail& rail : record.rails) {
    if (!rail.ceiling) continue;
    CeilingWatch watch{rail.rail, {}, rail.in_series, TableNumber(abs(*rail.ceiling))};
    for (const std::string& channel : rail.channels) {
      const auto found = by_name_.find(channel);
      if (found != by_name_.end()) watch.members.push_back(found->second);
    }
    ceilings_.push_back(std::move(watch));
  }
}

std::size_t Auditor::order_of(std::string_view channel) const {
  const auto found = by_name_.find(channel);
  return found != by_name_.end() ? found->second : channels_.size();
}

void Auditor::take(const TableRow& row) {
  if (row.segment != segment_ || !in_segment_) begin_segment(std::string(row.segment));
  has_rows_ = true;
  if (const std::optional<std::size_t> channel = find_channel(row.channel)) {
    if (!channels_[*channel].seen) check_set_up(row.channel);
    take_channel_row(row, *channel);
    return;
  }
  const auto line = lines_.find(row.channel);
  if (line != lines_.end()) {
    check_set_up(row.channel);
    take_line_row(row, *line->second);
    return;
  }
  if (unknown_.emplace(row.channel).second) report(finding::TableChannel, row.channel);
}

void Auditor::check_set_up(std::string_view name) {
  if (!set_up_ || set_up_->contains(name) || unknown_.contains(name)) return;
  unknown_.emplace(name);
  report(finding::SetupLacks, name);
}

// Most rows are of the channel of the last row, of the one after it or of the first.
std::optional<std::size_t> Auditor::find_channel(std::string_view name) {
  for (const std::size_t guess : {found_, found_ + 1, std::size_t{0}}) {
    if (guess >= channels_.size() || bench_.channels[guess].name != name) continue;
    found_ = guess;
    return guess;
  }
  const auto known = by_name_.find(name);
  if (known == by_name_.end()) return std::nullopt;
  found_ = known->second;
  return found_;
}

void Auditor::begin_segment(const std::string& segment) {
  end_segment();
  segment_ = segment;
  in_segment_ = true;
  has_rows_ = false;
  if (!segment.empty()) check_turn(segment);
  last_time_ = TableNumber();
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
  if (is_last_ && !is_safe) report(finding::TableSegmentAfterEnd, std::to_string(number_), segment);
  is_over_ = is_over_ || is_safe;
  waits_ = false;
  is_last_ = false;
  if (is_safe) return;
  const std::optional<TableNumber> number = segment.size() < 10 ? TableNumber::read(segment) : std::nullopt;
  const bool is_whole = number && number->sign() > 0 && number->value().is_whole();
  number_ = is_whole ? static_cast<std::int64_t>(number->value().floor()) : number_ + 1;
}

void Auditor::close_segment(const std::optional<TableNumber>& duration, bool waits) {
  if (!has_rows_) report(finding::TableNoRows, "segment");
  waits_ = waits;
  is_last_ = !waits;
  if (!duration || !has_rows_) return;
  TableNumber end;
  TableNumber slack;
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    if (!channels_[i].seen) continue;
    const Pace& pace = pace_of(bench_.supply_of(id(i)));
    end = std::max(end, channels_[i].time);
    slack = std::max({slack, pace.minimum_step, pace.resolution});
  }
  if (abs(end - *duration) > slack) report(finding::TableDuration, segment_, seconds(*duration), seconds(end));
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
  TableNumber voltage;
  const KeptPlace* place = nullptr;
  for (const std::size_t member : watch.members) {
    const ChannelState& state = channels_[member];
    if (!state.seen) continue;
    voltage = watch.in_series ? voltage + abs(state.voltage) : std::max(voltage, abs(state.voltage));
    place = &state.place;
  }
  if (place == nullptr || voltage <= watch.ceiling) return;
  watch.is_reported = true;
  report_at(*place, finding::TableCeiling, watch.rail, Volts{voltage.value()}, Volts{watch.ceiling.value()});
}

// Every channel that the segment speaks of has a last row at its end.
void Auditor::end_segment() {
  end_instant();
  for (std::size_t i = 0; i < budgets_.size(); ++i) {
    if (!budgets_[i]) continue;
    report_budget(bench_.supplies[i], budgets_[i]->end_segment());
    budgets_[i]->begin_segment();
  }
  TableNumber end;
  TableNumber coarsest;
  TableNumber latest_arrival;  // after the end, where a `linear` channel jumps just before it
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    if (!channels_[i].seen) continue;
    end = std::max(end, channels_[i].time);
    const Supply& supply = bench_.supply_of(id(i));
    coarsest = std::max(coarsest, pace_of(supply).resolution);
    if (supply.timing.interpolation != Interpolation::Linear) continue;
    latest_arrival = std::max(latest_arrival, pace_of(supply).minimum_step);
  }
  for (std::size_t i = 0; i < channels_.size(); ++i) {
    const ChannelState& channel = channels_[i];
    if (!channel.seen) continue;
    // Each rounds the end to its own grid, and one of its last steps may fill a minimum step.
    const Pace& pace = pace_of(bench_.supply_of(id(i)));
    // On a `linear` supply the last row may just be the end of a ramp.
    const Supply& supply = bench_.supply_of(id(i));
    if (channel.too_soon && supply.timing.interpolation == Interpolation::Hold) {
      report_row_at(channel.place, bench_.channels[i].name, finding::TableTooSoon, bench_.channels[i].name,
                    seconds(*channel.too_soon), supply.timing.minimum_step);
    }
    const TableNumber slack = std::max(pace.minimum_step, pace.resolution + coarsest + latest_arrival);
    if (end - channel.time > slack) {
      report_at(channel.place, finding::TableEndMissing, bench_.channels[i].name, seconds(channel.time), seconds(end));
    }
  }
}

// Rows come by time, then in the bench's order of channels, then lines. False if this one does not.
bool Auditor::in_order(const TableRow& row, std::size_t order) {
  const bool ordered = row.time > last_time_ || (row.time == last_time_ && order >= last_order_);
  if (!ordered) report_row("", finding::TableOrder, seconds(row.time), seconds(last_time_));
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
  if (row.output) levels_.insert_or_assign(std::string(row.channel), *row.output);
  static_cast<void>(in_order(row, channels_.size()));
}

void Auditor::take_channel_row(const TableRow& row, std::size_t index) {
  const Channel& channel = bench_.channels[index];
  ChannelState& state = channels_[index];
  const bool complete = row.voltage && row.current && row.output;
  if (!complete && segment_ != kSafeSegment) {
    report_row(row.channel, finding::TableNoSetpoint, row.channel, missing_of(row));
    return;
  }
  // A channel that holds may be shown at the instants of another, which are on that one's grid.
  const Supply& supply = bench_.supply_of(id(index));
  const bool holds = supply.timing.interpolation == Interpolation::Hold;
  const bool held = row.of_instant && holds && state.seen && !changes(row, state);
  if (!held) check_grid(row, supply);
  check_setpoints(row, index);
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
  check_envelope(before, state, index);
  check_power(state, index);
}

const Pace& Auditor::pace_of(const Supply& supply) const {
  return paces_[static_cast<std::size_t>(&supply - bench_.supplies.data())];
}

void Auditor::check_grid(const TableRow& row, const Supply& supply) {
  if (row.time.is_multiple_of(pace_of(supply).resolution)) return;
  report_row(supply.name, finding::TableOffGrid, exact_text(row.time), supply.timing.resolution, supply.name);
}

// A negative rail is a channel connected the other way round: the channel itself is set to a positive voltage.
void Auditor::check_setpoints(const TableRow& row, std::size_t index) {
  if (row.voltage) check_voltage(*row.voltage, index);
  if (row.voltage) check_threshold(*row.voltage, index);
  if (row.current) check_current(*row.current, index);
  const std::string& name = bench_.channels[index].name;
  const bool no_limit = row.current && row.current->sign() == 0 && row.output == true;
  if (no_limit) report_row(name, finding::TableNoLimit, name);
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

void Auditor::check_threshold(const TableNumber& value, std::size_t index) {
  const std::optional<TableNumber>& threshold = thresholds_[index];
  if (!threshold || abs(value) <= *threshold) return;
  const std::string& name = bench_.channels[index].name;
  report_row(name, finding::TableOvervoltage, name, Volts{value.value()}, Volts{threshold->value()});
}

void Auditor::check_voltage(const TableNumber& value, std::size_t index) {
  const Settable& settable = bounds_[index].voltage;
  if (settable.reaches(value) && value.is_multiple_of(settable.step)) return;
  const Channel& channel = bench_.channels[index];
  const Range<Volts>& range = channel.limits.voltage.value;
  const Volts voltage{value.value()};
  if (!settable.reaches(value)) {
    report_row(channel.name, finding::TableVoltageRange, channel.name, voltage, range.low, range.high);
  } else {
    report_row(channel.name + " V", finding::TableOffCount, channel.name, voltage.quantity(),
               channel.limits.voltage_resolution.quantity());
  }
}

// 0 A: no limit was set.
void Auditor::check_current(const TableNumber& value, std::size_t index) {
  const Settable& settable = bounds_[index].current;
  const bool is_within = value.sign() == 0 || settable.reaches(value);
  if (is_within && value.is_multiple_of(settable.step)) return;
  const Channel& channel = bench_.channels[index];
  const Range<Amps>& range = channel.limits.current.value;
  const Amps current{value.value()};
  if (!is_within) {
    report_row(channel.name, finding::TableCurrentRange, channel.name, current, range.low, range.high);
  } else {
    report_row(channel.name + " A", finding::TableOffCount, channel.name, current.quantity(),
               channel.limits.current_resolution.quantity());
  }
}

bool Auditor::changes(const TableRow& row, const ChannelState& state) {
  return (row.voltage && *row.voltage != state.voltage) || (row.current && *row.current != state.current) ||
         (row.output && *row.output != state.output);
}

void Auditor::check_pace(const TableRow& row, ChannelState& state, const Supply& supply) {
  if (!state.seen) {
    const bool late = row.time.sign() != 0 && segment_ != kSafeSegment;
    if (late) report(finding::TableStartMissing, row.channel, seconds(row.time));
    return;
  }
  if (row.time == state.time) {
    report_row(row.channel, finding::TableDuplicate, row.channel, seconds(row.time));
    return;
  }
  if (state.too_soon) {
    report_row_at(state.place, row.channel, finding::TableTooSoon, row.channel, seconds(*state.too_soon),
                  supply.timing.minimum_step);
    state.too_soon.reset();
  }
  const bool linear = supply.timing.interpolation == Interpolation::Linear;
  if (!changes(row, state) && !linear) return;
  const TableNumber since = row.time - (state.has_changed ? state.changed : TableNumber());
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
void Auditor::check_envelope(const std::optional<SetFrom>& before, const ChannelState& now, std::size_t index) {
  const Channel& channel = bench_.channels[index];
  if (!bounds_[index].power || over_envelope_.count(channel.name) != 0) return;
  const Watts& bound = channel.limits.power->value;
  if (counts(now) && product_exceeds(abs(now.voltage), now.current, *bounds_[index].power)) {
    over_envelope_.insert(channel.name);
    report(finding::TableEnvelope, channel.name, Watts{abs(now.voltage).value() * now.current.value()}, bound);
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
