#include "compiler/bench/shares.h"

#include <algorithm>
#include <numeric>

namespace rampart {
namespace {

// The smallest value that both are whole divisors of; an overflowed one stands for none.
Rational common_multiple(const Rational& a, const Rational& b) {
  const Rational ratio = a / b;
  return ratio.overflowed() ? ratio : b * Rational::fraction(ratio.numerator(), 1);
}

Rational times(Int128 counts, const Rational& width) {
  return Rational::fraction(counts, 1) * width;
}

Int128 ceiling(const Rational& value) {
  return -(-value).floor();
}

}  // namespace

Shares::Shares(const Bench& bench, std::span<const ChannelId> members, std::optional<Arrangement> arrangement)
    : series_(arrangement == Arrangement::Series), parallel_(arrangement == Arrangement::Parallel) {
  for (const ChannelId member : members) {
    const OutputLimits& limits = bench[member].limits;
    voltage_.counts.push_back(limits.voltage_resolution.si);
    voltage_.lows.push_back(limits.voltage.value.low.si);
    voltage_.tops.push_back(limits.voltage.value.high.si);
    current_.counts.push_back(limits.current_resolution.si);
    current_.lows.push_back(limits.current.value.low.si);
    current_.tops.push_back(limits.current.value.high.si);
  }
  voltage_.shared = series_;
  current_.shared = parallel_;
  find_step(voltage_);
  find_step(current_);
  const std::vector<Rational>& tops = series_ ? voltage_.tops : current_.tops;
  const Rational all = std::accumulate(tops.begin(), tops.end(), Rational(0));
  for (const Rational& top : tops) shares_.push_back(arrangement ? top / all : Rational(1));
  for (Scale* scale : {&voltage_, &current_}) {
    if (scale->shared) form_groups(*scale);
  }
}

// Groups of alike counts, the coarsest first, each with what those after it can have.
void Shares::form_groups(Scale& scale) const {
  std::vector<std::size_t> order(scale.counts.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return scale.counts[a] > scale.counts[b]; });
  for (const std::size_t i : order) {
    if (scale.groups.empty() || scale.groups.back().width != scale.counts[i]) {
      scale.groups.push_back({scale.counts[i], {}, Rational(0), Rational(0)});
    }
    scale.groups.back().members.push_back(i);
    scale.top = scale.top + scale.tops[i];
    scale.low = std::max(scale.low, scale.lows[i] / shares_[i]);
  }
  for (std::size_t group = scale.groups.size() - 1; group-- > 0;) {
    const Group& after = scale.groups[group + 1];
    scale.groups[group].tops_after = after.tops_after;
    scale.groups[group].lows_after = after.lows_after;
    for (const std::size_t i : after.members) {
      Rational& tops = scale.groups[group].tops_after;
      Rational& lows = scale.groups[group].lows_after;
      tops = tops + times((scale.tops[i] / after.width).floor(), after.width);
      lows = lows + times(ceiling(scale.lows[i] / after.width), after.width);
    }
  }
}

void Shares::find_step(Scale& scale) {
  // Without a common step the channels stay at nothing.
  scale.counts_of_step.assign(scale.counts.size(), 0);
  scale.step = scale.counts.front();
  for (const Rational& count : scale.counts) {
    scale.step = scale.shared ? std::min(scale.step, count) : common_multiple(scale.step, count);
    if (scale.step.overflowed()) return;
  }
  if (scale.shared) return;
  for (std::size_t i = 0; i < scale.counts.size(); ++i) {
    scale.counts_of_step[i] = static_cast<std::int64_t>((scale.step / scale.counts[i]).rounded());
  }
}

// The group with the coarsest counts first: together its members get their shares in whole counts, and what that leaves
// over goes to the next group. Where there is no next one, the rail is right to half a count.
void Shares::spread(const Rational& total, const Scale& scale, std::vector<MemberCounts>& counts) const {
  const bool fits_top = total <= scale.top;
  const bool fits_low = total >= scale.low;
  Rational due;
  Rational left = total;
  for (const Group& group : scale.groups) {
    for (const std::size_t i : group.members) due = due + total * shares_[i];
    Int128 count = (due / group.width).rounded();
    if (&group != &scale.groups.back()) {
      if (fits_top) count = std::max(count, ceiling((left - group.tops_after) / group.width));
      if (fits_low) count = std::min(count, ((left - group.lows_after) / group.width).floor());
    }
    const Int128 given = hand_out(count, total, scale, group, counts);
    due = due - times(given, group.width);
    left = left - times(given, group.width);
  }
}

// Each gets its share rounded down and an equal part of the rest; of what cannot be parted, each with a fraction gets
// one in the order of the list, then the others. Nobody leaves its range for it. Gives how many were taken.
Int128 Shares::hand_out(Int128 count, const Rational& total, const Scale& scale, const Group& group,
                        std::vector<MemberCounts>& counts) const {
  const auto members = static_cast<Int128>(group.members.size());
  Int128 rest = count;
  for (const std::size_t i : group.members) rest -= (total * shares_[i] / group.width).floor();
  const Int128 part = divide_floor(rest, members);
  Int128 odd = rest - part * members;
  Int128 missing = count;
  for (const bool with_fraction : {true, false}) {
    for (const std::size_t i : group.members) {
      const Rational share = total * shares_[i] / group.width;
      if (share.is_whole() == with_fraction) continue;
      const Int128 own = share.floor() + part + (odd-- > 0 ? 1 : 0);
      const Int128 taken = within(own, total, scale, i);
      counts[i].*scale.quantity = static_cast<std::int64_t>(taken);
      missing -= taken;
    }
  }
  for (const std::size_t i : group.members) {
    if (missing == 0) break;
    const Int128 before = counts[i].*scale.quantity;
    const Int128 taken = within(before + missing, total, scale, i);
    counts[i].*scale.quantity = static_cast<std::int64_t>(taken);
    missing -= taken - before;
  }
  return count - missing;
}

// What the range of a member lets it take, where the rail as a whole is within its own.
Int128 Shares::within(Int128 count, const Rational& total, const Scale& scale, std::size_t member) {
  const Rational& width = scale.counts[member];
  if (total <= scale.top) count = std::min(count, (scale.tops[member] / width).floor());
  if (total >= scale.low) count = std::max(count, ceiling(scale.lows[member] / width));
  return count;
}

void Shares::set_voltage(const Rational& total, std::vector<MemberCounts>& counts) const {
  if (series_) {
    spread(total, voltage_, counts);
  } else {
    const bool settable = !voltage_.step.overflowed();
    copy(settable ? static_cast<std::int64_t>((total / voltage_.step).rounded()) : 0, voltage_, counts);
  }
}

// In series one limit holds for all, which must not let through more than was asked for.
void Shares::set_current(const Rational& total, std::vector<MemberCounts>& counts) const {
  if (parallel_) {
    spread(total, current_, counts);
  } else if (current_.step.overflowed()) {
    copy(0, current_, counts);
  } else {
    const Rational steps = total / current_.step;
    copy(static_cast<std::int64_t>(series_ ? steps.floor() : steps.rounded()), current_, counts);
  }
}

std::optional<RoundedLine> Shares::voltage_way(const Rational& from, const Rational& to, std::int64_t parts) const {
  if (series_) return std::nullopt;
  return RoundedLine::between(from / voltage_.step, to / voltage_.step, parts);
}

std::optional<RoundedLine> Shares::current_way(const Rational& from, const Rational& to, std::int64_t parts) const {
  if (parallel_) return std::nullopt;
  return RoundedLine::between(from / current_.step, to / current_.step, parts,
                              series_ ? RoundedLine::To::Down : RoundedLine::To::Nearest);
}

Rational Shares::settable_voltage(const Rational& total) const {
  std::vector<MemberCounts> counts(shares_.size());
  set_voltage(total, counts);
  return together(voltage_, counts);
}

Rational Shares::settable_current(const Rational& total) const {
  std::vector<MemberCounts> counts(shares_.size());
  set_current(total, counts);
  return together(current_, counts);
}

// A member of the first group gets its share rounded up at most. Those of later groups part what is left over, less
// than half a count of the coarsest, and may get one count more each; one alone rounds the sum of both. Near the top,
// where those after it may not have room for what is left over, it is its own top that bounds a member.
Rational Shares::highest_voltage(std::size_t member, const Rational& highest) const {
  if (!series_) return settable_voltage(highest);
  const Rational& width = voltage_.counts[member];
  const Rational& coarsest = voltage_.groups.front().width;
  const Int128 top = (voltage_.tops[member] / width).floor();
  const Rational all_counts = coarsest * Rational(static_cast<std::int64_t>(shares_.size()));
  if (voltage_.groups.size() > 1 && highest + all_counts > voltage_.top) return times(top, width);
  const Rational share = highest * shares_[member] / width;
  const Rational left_over = coarsest / (width * Rational(2));
  const auto group = std::find_if(voltage_.groups.begin(), voltage_.groups.end(),
                                  [&width](const Group& one) { return one.width == width; });
  Int128 most = ceiling(share);
  if (width != coarsest) {
    const bool alone = group->members.size() == 1;
    most = alone ? ceiling(share + left_over + Rational::fraction(1, 2)) - 1 : most + 1 + ceiling(left_over);
  }
  return times(std::min(most, top), width);
}

Rational Shares::together(const Scale& scale, const std::vector<MemberCounts>& counts) const {
  Rational sum;
  for (std::size_t i = 0; i < (scale.shared ? counts.size() : 1); ++i) {
    sum = sum + times(counts[i].*scale.quantity, scale.counts[i]);
  }
  return sum;
}

}  // namespace rampart
