#include "runtime/sweep/value_grid.h"

#include <algorithm>
#include <variant>
#include <vector>

namespace rampart::sweep {
namespace {

// Decimal places of a setting: 10^18 times the value has to fit.
constexpr int kMostPlaces = 18;

std::optional<Rational> step_of(const Channel& channel, const Supply& supply, const Dimension& dimension) {
  if (dimension == dimension::kVoltage) return channel.limits.voltage_resolution.si;
  if (dimension == dimension::kCurrent) return channel.limits.current_resolution.si;
  if (dimension == dimension::kTime) return to_seconds(supply.timing.resolution);
  return std::nullopt;
}

// A value of a protection at both values of the parameter, and the step in which a channel sets it.
struct Followed {
  Rational low;
  Rational high;
  Rational step;
};

template <class Value>
void follow(const std::optional<Placed<SteppedRange<Value>>>& ability, const Rational& low, const Rational& high,
            std::vector<Followed>& all) {
  if (ability) all.push_back({low, high, ability->value.step.si});
}

std::vector<Followed> followed(const Protection& low, const Protection& high, const ProtectionAbilities& able) {
  std::vector<Followed> all;
  if (low.fuse && high.fuse) {
    follow(able.fuse_delay, to_seconds(low.fuse->delay.value), to_seconds(high.fuse->delay.value), all);
    if (low.fuse->current && high.fuse->current) {
      follow(able.fuse_current, low.fuse->current->value.si, high.fuse->current->value.si, all);
    }
  }
  if (low.overpower && high.overpower) {
    follow(able.overpower_delay, to_seconds(low.overpower->delay.value), to_seconds(high.overpower->delay.value), all);
  }
  return all;
}

std::string decimal_text(const Rational& value) {
  Rational scaled = abs(value);
  std::size_t places = 0;
  for (; !scaled.overflowed() && !scaled.is_whole(); ++places) {
    if (places == kMostPlaces) return {};
    scaled = scaled * Rational(10);
  }
  if (scaled.overflowed()) return {};
  std::string digits;
  for (Int128 rest = scaled.numerator(); rest > 0 || digits.size() <= places; rest /= 10) {
    digits.push_back(static_cast<char>('0' + static_cast<int>(rest % 10)));
    if (digits.size() == places) digits.push_back('.');
  }
  std::reverse(digits.begin(), digits.end());
  return (value.sign() < 0 ? "-" : "") + digits;
}

}  // namespace

ValueGrid::ValueGrid(const Range<Rational>& range, const Rational& step, const Rational& anchor,
                     const Rational& present)
    : range_(range), step_(step), present_(present) {
  const Int128 before = ((range.low - anchor) / step).floor() + 1;
  const Int128 end = -((anchor - range.high) / step).floor();  // the first that is not below the upper end
  first_ = anchor + step * Rational::fraction(before, 1);
  inner_ = static_cast<std::int64_t>(std::max<Int128>(0, end - before));
  if (!range.contains(present)) return;
  std::int64_t low = 0;
  std::int64_t high = regular_count() - 1;
  while (low < high) {  // the first that is not below it
    const std::int64_t middle = low + (high - low) / 2;
    if (regular(middle) < present) {
      low = middle + 1;
    } else {
      high = middle;
    }
  }
  present_at_ = low;
  present_added_ = regular(low) != present;
}

std::int64_t ValueGrid::regular_count() const {
  return range_.low == range_.high ? 1 : inner_ + 2;
}

Rational ValueGrid::regular(std::int64_t index) const {
  if (index == 0) return range_.low;
  if (index == inner_ + 1) return range_.high;
  return first_ + step_ * Rational(index - 1);
}

std::int64_t ValueGrid::count() const {
  return regular_count() + (present_added_ ? 1 : 0);
}

Rational ValueGrid::at(std::int64_t index) const {
  if (!present_added_ || index < *present_at_) return regular(index);
  return index == *present_at_ ? present_ : regular(index - 1);
}

std::optional<Rational> settable_step(const Profile& profile, const Bench& bench, const Dimension& dimension) {
  std::optional<Rational> finest;
  for (const Rail& rail : profile.rails) {
    for (const ChannelId id : bench.channels_of(rail.output)) {
      const std::optional<Rational> step = step_of(bench[id], bench.supply_of(id), dimension);
      if (step && step->sign() > 0 && (!finest || *step < *finest)) finest = step;
    }
  }
  return finest;
}

std::optional<Rational> protection_step(const Profile& low, const Profile& high, const Rational& apart,
                                        const Bench& bench) {
  std::optional<Rational> largest;
  for (std::size_t i = 0; i < std::min(low.rails.size(), high.rails.size()); ++i) {
    for (const ChannelId id : bench.channels_of(low.rails[i].output)) {
      for (const Followed& value : followed(low.rails[i].protection, high.rails[i].protection, bench[id].protection)) {
        if (value.step.sign() <= 0 || value.low == value.high) continue;
        const Rational step = abs(value.step * apart / (value.high - value.low));
        if (!step.overflowed() && (!largest || *largest < step)) largest = step;
      }
    }
  }
  return largest;
}

Rational thousandth(const Range<Rational>& range) {
  const Rational most = (range.high - range.low) / Rational(1000);
  if (most.overflowed() || most.sign() <= 0) return 1;
  Rational decade = 1;
  while (decade > most) decade = decade / Rational(10);
  while (decade * Rational(10) <= most) decade = decade * Rational(10);
  for (const std::int64_t factor : {5, 2}) {
    if (decade * Rational(factor) <= most) return decade * Rational(factor);
  }
  return decade;
}

std::string setting_text(const Quantity& value, const Range<Quantity>& range) {
  std::string text = parameter_text(value, range);
  if (const std::optional<Quantity> read = parse_quantity(text); !read || *read != value) {
    text = decimal_text(value.value);
    if (!text.empty()) text += unit_text(value.dimension);
  }
  std::erase(text, ' ');
  return text;
}

}  // namespace rampart::sweep
