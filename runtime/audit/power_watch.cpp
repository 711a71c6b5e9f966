#include "runtime/audit/power_watch.h"

#include <algorithm>
#include <limits>

namespace rampart::audit {
namespace {

// Sums of decimals are off by less; counts are coarser by far.
constexpr double kRounding = 1e-9;

double share_at(double from, double to, double time) {
  return to > from ? (time - from) / (to - from) : 0;
}

double power_of(const SetFrom& from, const SetFrom& to, double share) {
  return (from.voltage + (to.voltage - from.voltage) * share) * (from.current + (to.current - from.current) * share);
}

// The highest point of the parabola through three values, one of them in the middle.
double top_of(double begin, double middle, double end) {
  const double top = std::max(begin, end);
  const double bend = 2 * (begin - 2 * middle + end);
  if (!(bend < 0)) return top;
  const double slope = 4 * middle - 3 * begin - end;
  const double at = -slope / (2 * bend);
  if (!(at > 0 && at < 1)) return top;
  return std::max(top, begin + slope * at / 2);
}

}  // namespace

double most_power_between(const SetFrom& from, const SetFrom& to) {
  if (!from.output) return 0;
  return top_of(power_of(from, to, 0), power_of(from, to, 0.5), power_of(from, to, 1));
}

PowerWatch::PowerWatch(const Supply& supply)
    : bound_(supply.power ? supply.power->value.si.to_double() : std::numeric_limits<double>::infinity()),
      is_linear_(supply.timing.interpolation == Interpolation::Linear) {
  for (const ChannelId channel : supply.channels) members_.push_back({channel, {}});
}

void PowerWatch::begin_segment() {
  for (Member& member : members_) member.points.clear();
  now_ = reached_ = 0;
}

std::optional<MostPower> PowerWatch::take(ChannelId channel, const SetFrom& from) {
  if (is_over_) return std::nullopt;
  now_ = from.time;
  std::size_t kept = 0;
  for (Member& member : members_) {
    if (member.channel == channel) member.points.push_back(from);
    kept += member.points.size();
  }
  double known = now_;
  if (kept <= kMostKept) {
    for (const Member& member : members_) known = std::min(known, known_until(member));
  }
  return go_to(known);
}

std::optional<MostPower> PowerWatch::end_segment() {
  if (is_over_) return std::nullopt;
  std::optional<MostPower> most = go_to(now_);
  if (!most) most = judge({now_, now_});
  is_over_ = most.has_value();
  return most;
}

double PowerWatch::known_until(const Member& member) const {
  const bool runs = is_linear_ && !member.points.empty() && member.points.back().output;
  return runs ? member.points.back().time : now_;
}

std::optional<MostPower> PowerWatch::go_to(double time) {
  while (reached_ < time) {
    const Stretch stretch{reached_, next_turn(time)};
    std::optional<MostPower> most = judge(stretch);
    reached_ = stretch.end;
    for (Member& member : members_) {
      while (member.points.size() > 1 && member.points[1].time <= reached_) member.points.pop_front();
    }
    if (!most) continue;
    is_over_ = true;
    begin_segment();
    return most;
  }
  return std::nullopt;
}

// The first time after the one reached at which a channel has a row, or `before`.
double PowerWatch::next_turn(double before) const {
  double turn = before;
  for (const Member& member : members_) {
    if (member.points.empty()) continue;
    const bool has_begun = member.points.front().time <= reached_;
    if (has_begun && member.points.size() == 1) continue;
    turn = std::min(turn, member.points[has_begun ? 1 : 0].time);
  }
  return turn;
}

std::optional<MostPower> PowerWatch::judge(const Stretch& stretch) const {
  const double middle = stretch.begin + (stretch.end - stretch.begin) / 2;
  const double power =
      top_of(power_at(stretch.begin, stretch), power_at(middle, stretch), power_at(stretch.end, stretch));
  if (power <= bound_ * (1 + kRounding)) return std::nullopt;
  return MostPower{power, place_in(stretch)};
}

double PowerWatch::power_at(double time, const Stretch& stretch) const {
  double sum = 0;
  for (const Member& member : members_) {
    if (member.points.empty()) continue;
    const SetFrom& from = member.points.front();
    if (from.time > stretch.begin || !from.output) continue;
    const bool runs = is_linear_ && member.points.size() > 1;
    const SetFrom& to = runs ? member.points[1] : from;
    sum += power_of(from, to, share_at(from.time, to.time, time));
  }
  return sum;
}

// Of the rows that rule in the stretch, the last.
KeptPlace PowerWatch::place_in(const Stretch& stretch) const {
  const SetFrom* last = nullptr;
  for (const Member& member : members_) {
    if (member.points.empty()) continue;
    const SetFrom& from = member.points.front();
    if (from.time > stretch.begin || !from.output) continue;
    if (last == nullptr || from.time >= last->time) last = &from;
  }
  return last != nullptr ? last->place : KeptPlace{};
}

}  // namespace rampart::audit
