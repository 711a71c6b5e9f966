#include "compiler/checks/power_course.h"

#include <algorithm>
#include <cmath>

#include "lang/values/fitting.h"

namespace rampart::checks {
namespace {

Point rounded(const Point& point) {
  return {fitting(Rational::overflow(), point.voltage.to_double()),
          fitting(Rational::overflow(), point.limit.to_double())};
}

// a + b s + c s² for s from 0 to 1.
struct Parabola {
  Rational a;
  Rational b;
  Rational c;

  static Parabola of_product(const Point& from, const Point& to) {
    const Rational rise = to.voltage - from.voltage;
    const Rational growth = to.limit - from.limit;
    return {from.voltage * from.limit, from.voltage * growth + from.limit * rise, rise * growth};
  }
  void add(const Parabola& other, const Rational& share) {
    const auto added = [&share](const Rational& sum, const Rational& part) {
      return fitting(sum + part * share, sum.to_double() + part.to_double() * share.to_double());
    };
    a = added(a, other.a);
    b = added(b, other.b);
    c = added(c, other.c);
  }
  [[nodiscard]] bool overflowed() const { return a.overflowed() || b.overflowed() || c.overflowed(); }

  struct Top {
    Rational value;
    Rational at;
  };
  // The first of the highest points.
  [[nodiscard]] Top top() const {
    Top best{a, 0};
    const Rational end = fitting(a + b + c, a.to_double() + b.to_double() + c.to_double());
    if (end > best.value) best = {end, 1};
    if (c.sign() >= 0) return best;
    const double turn = -b.to_double() / (2 * c.to_double());
    const Rational at = fitting(-b / (c * Rational(2)), turn);
    if (at.sign() <= 0 || at >= Rational(1)) return best;
    const Rational value =
        fitting(a - b * b / (c * Rational(4)), a.to_double() - b.to_double() * b.to_double() / (4 * c.to_double()));
    if (value > best.value) best = {value, at};
    return best;
  }
};

class PowerWalk {
 public:
  PowerWalk(const Table& table, const std::vector<Abilities>& abilities, bool is_safe)
      : bench_(table.bench()),
        is_safe_(is_safe),
        resting_(bench_.supplies.size()),
        last_resting_(abilities.size()),
        shares_(abilities.size()) {
    for (std::size_t i = 0; i < abilities.size(); ++i) {
      for (std::size_t member = 0; member < abilities[i].members.size(); ++member) {
        const SupplyId supply = abilities[i].members[member]->supply;
        if (!bench_[supply].power) continue;
        Rational& share = shares_[i][static_cast<std::size_t>(supply)];
        share = share + abilities[i].shares.of_power(member);
      }
    }
    peaks_.rails.resize(abilities.size());
    peaks_.supplies.resize(bench_.supplies.size());
  }

  void take(const Stretch& stretch) {
    stretch_ = &stretch;
    for (const auto& [rail, ways] : stretch.ways) {
      if (!shares_[rail].empty()) rest(rail, 0);
      for (const Way& way : ways) judge_rail(rail, way);
    }
    stretch.for_each_part([this](const std::map<std::size_t, Way>& now, Nanoseconds begin, Nanoseconds end) {
      for (std::size_t supply = 0; supply < resting_.size(); ++supply) judge_supply(supply, now, begin, end);
    });
    for (const auto& [rail, ways] : stretch.ways) {
      if (shares_[rail].empty()) continue;
      const Way& way = ways.back();
      rest(rail, way.on ? product(way.to, way.to).a : Rational(0));
    }
  }

  [[nodiscard]] PowerPeaks peaks() { return std::move(peaks_); }

 private:
  // What a rail brings to the sums of its supplies while others move.
  void rest(std::size_t rail, const Rational& power) {
    for (const auto& [supply, share] : shares_[rail]) {
      const Rational change = power - last_resting_[rail];
      resting_[supply] = fitting(resting_[supply] + change * share,
                                 resting_[supply].to_double() + change.to_double() * share.to_double());
    }
    last_resting_[rail] = power;
  }

  void judge_rail(std::size_t rail, const Way& way) {
    PowerPeak& peak = peaks_.rails[rail];
    if (!way.on || most_power(way) < peak.power.to_double()) return;
    const Parabola::Top top = product(way.from, way.to).top();
    if (top.value <= peak.power) return;
    found(peak, top, way.begin, way.end);
    peak.terms = {term(rail, way, peak.time, Rational(1))};
  }

  void judge_supply(std::size_t supply, const std::map<std::size_t, Way>& now, Nanoseconds begin, Nanoseconds end) {
    const auto& bound = bench_.supplies[supply].power;
    if (!bound) return;
    Parabola sum{resting_[supply], 0, 0};
    for (const auto& [rail, way] : now) {
      const auto share = shares_[rail].find(supply);
      if (way.on && share != shares_[rail].end()) sum.add(product(way.at(begin), way.at(end)), share->second);
    }
    const Parabola::Top top = sum.top();
    PowerPeak& peak = peaks_.supplies[supply];
    if (top.value <= std::max(peak.power, bound->value.si)) return;
    found(peak, top, begin, end);
    peak.terms.clear();
    for (std::size_t rail = 0; rail < shares_.size(); ++rail) {
      const auto share = shares_[rail].find(supply);
      if (share == shares_[rail].end()) continue;
      const auto moving = now.find(rail);
      const Way way = moving != now.end() ? moving->second : stretch_->courses[rail].standing(peak.time);
      if (way.on) peak.terms.push_back(term(rail, way, peak.time, share->second));
    }
  }

  // Not less than any product of the way.
  static double most_power(const Way& way) {
    constexpr double kRounding = 1 + 1e-9;
    const auto most = [](const Rational& a, const Rational& b) {
      return std::max(std::abs(a.to_double()), std::abs(b.to_double()));
    };
    return most(way.from.voltage, way.to.voltage) * most(way.from.limit, way.to.limit) * kRounding;
  }

  static Parabola product(const Point& from, const Point& to) {
    const Parabola exact = Parabola::of_product(from, to);
    return exact.overflowed() ? Parabola::of_product(rounded(from), rounded(to)) : exact;
  }

  void found(PowerPeak& peak, const Parabola::Top& top, Nanoseconds begin, Nanoseconds end) const {
    peak.power = top.value;
    peak.time = begin + Nanoseconds{std::llround(top.at.to_double() * static_cast<double>((end - begin).count()))};
    peak.segment = stretch_->segment;
    peak.pass = stretch_->pass;
    peak.in_safe = is_safe_;
  }

  static PowerTerm term(std::size_t rail, const Way& way, Nanoseconds time, const Rational& share) {
    const Point point = way.at(time);
    return {RailId{static_cast<std::uint32_t>(rail)}, point, share, way};
  }

  const Bench& bench_;
  bool is_safe_;
  PowerPeaks peaks_;
  std::vector<Rational> resting_;                        // by SupplyId: the sum of what rests
  std::vector<Rational> last_resting_;                   // by RailId: what it brings to that
  std::vector<std::map<std::size_t, Rational>> shares_;  // by RailId: of supplies with a bound
  const Stretch* stretch_ = nullptr;
};

}  // namespace

PowerPeaks power_peaks(const Table& table, const std::vector<Abilities>& abilities, bool is_safe,
                       const std::vector<bool>& may_be_on) {
  PowerWalk power(table, abilities, is_safe);
  CourseWalk(table, abilities, may_be_on).walk([&power](const Stretch& stretch) { power.take(stretch); });
  return power.peaks();
}

}  // namespace rampart::checks
