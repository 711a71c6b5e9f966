#include "runtime/diff/segment_player.h"

#include <algorithm>

namespace rampart::diff {
namespace {

Rational straight(const Row& row, Nanoseconds time, std::int64_t from, std::int64_t to) {
  if (row.until <= row.time || from == to) return from;
  if (time >= row.until) return to;
  return Rational(from) +
         Rational(to - from) * Rational::fraction((time - row.time).count(), (row.until - row.time).count());
}

}  // namespace

SegmentPlayer::SegmentPlayer(const Table& table)
    : table_(table), cursor_(table.rows()), rows_(table.bench().channels.size()), lines_(table.profile().lines.size()) {
  for (const RailSetup& rail : table.rails()) {
    const Timing timing = table.bench().timing_of(rail.members);
    grids_.push_back({timing.minimum_step, timing.resolution, timing.interpolation});
  }
  look_ahead();
}

Nanoseconds SegmentPlayer::earliest_row(Nanoseconds time) const {
  Nanoseconds earliest = time;
  for (const TimeGrid& grid : grids_) earliest = std::min(earliest, grid.nearest(time));
  return earliest;
}

void SegmentPlayer::look_ahead() {
  // Marks and measurements change nothing on the bench.
  const auto changes_nothing = [](const TableItem& item) {
    return std::holds_alternative<MarkReached>(item) || std::holds_alternative<MeasurementDue>(item);
  };
  do {
    next_ = cursor_.next();
  } while (next_ && changes_nothing(*next_));
  if (!next_) table_over_ = segment_over_ = true;
}

std::optional<Nanoseconds> SegmentPlayer::next_time() {
  if (segment_over_) return std::nullopt;
  if (const PassEnded* pass = pass_end()) return earliest_row(pass->time);
  return std::visit([](const auto& item) { return item.time; }, *next_);
}

const PassEnded* SegmentPlayer::pass_end() {
  return segment_over_ ? nullptr : std::get_if<PassEnded>(&*next_);
}

void SegmentPlayer::take() {
  if (const auto* row = std::get_if<Row>(&*next_)) rows_[static_cast<std::size_t>(row->channel)] = *row;
  if (const auto* line = std::get_if<LineRow>(&*next_)) lines_[static_cast<std::size_t>(line->line)] = line->high;
  if (const auto* end = std::get_if<SegmentEnded>(&*next_)) {
    segment_over_ = true;
    segment_length_ = end->time;
    await_ = end->await;
    return;
  }
  if (std::holds_alternative<PassEnded>(*next_)) {
    next_.reset();
    return;
  }
  look_ahead();
}

void SegmentPlayer::skip_passes(std::int64_t passes, Nanoseconds length) {
  if (passes > 0) {
    cursor_.skip_passes(passes);
    for (std::optional<Row>& row : rows_) {
      if (!row) continue;
      row->time += passes * length;
      row->until += passes * length;
    }
  }
  look_ahead();
}

bool SegmentPlayer::next_segment() {
  if (table_over_) return false;
  segment_over_ = false;
  look_ahead();
  for (std::optional<Row>& row : rows_) row.reset();
  return !table_over_;
}

std::optional<Rational> SegmentPlayer::value(std::uint32_t number, Compared quantity, Nanoseconds time) const {
  if (quantity == Compared::Level) {
    const std::optional<bool>& level = lines_[number];
    return level ? std::optional<Rational>(*level ? 1 : 0) : std::nullopt;
  }
  const RailSetup& setup = table_.rails()[number];
  const std::optional<Rational> value = rail_value(setup, quantity, time);
  const bool is_negative = quantity == Compared::Setpoint && table_.profile()[setup.rail].reversed;
  return value && is_negative ? -*value : value;
}

std::optional<Rational> SegmentPlayer::rail_value(const RailSetup& setup, Compared quantity, Nanoseconds time) const {
  std::optional<Rational> sum;
  for (const ChannelId channel : setup.members) {
    const std::optional<Row>& row = rows_[static_cast<std::size_t>(channel)];
    if (!row) return std::nullopt;
    const OutputLimits& limits = table_.bench()[channel].limits;
    if (quantity == Compared::Output) return row->known.output ? std::optional<Rational>(row->output) : std::nullopt;
    const bool is_voltage = quantity == Compared::Setpoint;
    if (is_voltage ? !row->known.voltage : !row->known.limit) return std::nullopt;
    const Rational value = is_voltage
                               ? straight(*row, time, row->voltage, row->voltage_until) * limits.voltage_resolution.si
                               : straight(*row, time, row->current, row->current_until) * limits.current_resolution.si;
    const bool adds = setup.arrangement == (is_voltage ? Arrangement::Series : Arrangement::Parallel);
    sum = sum && adds ? *sum + value : value;
  }
  return sum;
}

}  // namespace rampart::diff
