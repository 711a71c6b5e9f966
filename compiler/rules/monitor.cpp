#include "compiler/rules/monitor.h"

#include <algorithm>
#include <cmath>

#include "lang/text/overloaded.h"

namespace rampart {

std::string_view rule_side_name(RuleSide side) {
  return side == RuleSide::Setpoints ? "setpoints" : "simulated";
}

namespace rules {
namespace {

// Rounding of a distance against its size, and of a time in s.
constexpr double kRounding = 1e-12;
constexpr double kTimeRounding = 1e-15;
constexpr double kSameState = 1e-9;

// What is left of two equal times is rounding.
std::optional<double> measured(double distance) {
  if (!std::isfinite(distance)) return std::nullopt;
  return std::abs(distance) < kRounding ? 0.0 : distance;
}

}  // namespace

Place place_of(const RulePlan& plan, const Scene& scene, const Instant& at) {
  const RailDoing* latest = nullptr;
  for (const RailId id : plan.rails) {
    const RailDoing& doing = scene.rails[static_cast<std::size_t>(id)];
    if (doing.statement == Span{}) continue;
    if (latest == nullptr || doing.since.since(latest->since) > 0) latest = &doing;
  }
  if (latest == nullptr) return {at, {}, kNoCall, scene.passes};
  return {at, latest->statement, latest->call, scene.passes};
}

void MonitorState::add(double number, double scale) {
  numbers.push_back(number);
  scales.push_back(scale);
  began.emplace_back();
}

void MonitorState::add_age(const std::optional<Instant>& since, const Instant& now, double oldest) {
  add(since.has_value());
  if (!since) return;
  add(std::min(now.since(*since), oldest), oldest);
  began.back() = since;
}

bool Tally::is_less(double distance) const {
  const double noise = std::isfinite(least_) ? kRounding * std::abs(least_) : 0;
  return !met_ || distance < least_ - noise;
}

bool operator==(const MonitorState& a, const MonitorState& b) {
  if (a.flags != b.flags || a.numbers.size() != b.numbers.size()) return false;
  for (std::size_t i = 0; i < a.numbers.size(); ++i) {
    const bool begins_alike =
        a.began[i] && b.began[i] && a.began[i]->whole == b.began[i]->whole && a.began[i]->rest == b.began[i]->rest;
    if (begins_alike) continue;
    if (std::abs(a.numbers[i] - b.numbers[i]) > kSameState * std::max(a.scales[i], b.scales[i])) return false;
  }
  return true;
}

void Tally::meet(double distance, const RulePlan& plan, const Scene& scene, const Instant& at) {
  if (is_less(distance)) meet(distance, place_of(plan, scene, at));
}

void Tally::meet(double distance, const Place& place) {
  if (is_less(distance)) {
    least_ = std::min(least_, distance);
    place_ = place;
  }
  met_ = true;
}

void Monitor::approach(const Courses& courses, std::size_t condition) {
  Approach& approach = approaches_[condition];
  if (approach.met) return;
  const std::optional<double> nearer = courses.greatest_above(condition, approach.nearest);
  if (nearer) approach.nearest = *nearer;
  approach.met = approach.nearest >= 0;
}

bool Monitor::has_met_all() const {
  return std::all_of(approaches_.begin(), approaches_.end(), [](const Approach& approach) { return approach.met; });
}

RuleResult Monitor::result_of(const Tally& written, const Tally& worst) const {
  RuleResult result;
  result.rule = plan_.index;
  result.unit = plan_.unit;
  for (const Approach& approach : approaches_) {
    const bool is_told = !approach.met && std::isfinite(approach.nearest);
    result.nearest.push_back(is_told ? std::optional(approach.nearest) : std::nullopt);
  }
  result.exercised = written.met();
  if (!result.exercised) return result;
  // What may go wrong includes what does.
  const bool worst_is_worse = worst.met() && worst.least() < written.least();
  const Tally& least = worst_is_worse ? worst : written;
  result.nominal = measured(written.least());
  result.margin = measured(least.least());
  const auto is_kept = [](double distance) { return distance >= -kRounding; };
  result.holds_as_written = is_kept(written.least());
  result.holds = is_kept(least.least());
  result.time_s = least.place().at.seconds();
  result.statement = least.place().statement;
  result.call = least.place().call;
  result.passes = least.place().passes;
  return result;
}

std::unique_ptr<Monitor> make_monitor(const RulePlan& plan) {
  return plan.rule->phase ? make_phase_monitor(plan) : make_whole_monitor(plan);
}

std::unique_ptr<Monitor> make_whole_monitor(const RulePlan& plan) {
  return std::visit(Overloaded{
                        [&](const AlwaysRule&) { return make_always_monitor(plan); },
                        [&](const BeforeRule&) { return make_before_monitor(plan); },
                        [&](const WithinRule&) { return make_within_monitor(plan); },
                        [&](const MonotonicRule&) { return make_edge_monitor(plan); },
                    },
                    plan.rule->what);
}

Instant instant_at(const Instant& start, double time) {
  const double nanoseconds = time * 1e9;
  const double whole = std::round(nanoseconds);
  const double noise = std::max(kTimeRounding * 1e9, 4e-16 * std::abs(nanoseconds));
  if (std::abs(nanoseconds - whole) > noise || std::abs(whole) > 1e18) return start.plus_seconds(time);
  return start.plus(Nanoseconds{static_cast<std::int64_t>(whole)});
}

double seconds_between(const Instant& from, const Instant& to, Nanoseconds less) {
  return static_cast<double>((to.whole - from.whole - less).count()) / 1e9 + (to.rest - from.rest);
}

void remember(const std::optional<Instant>& instant, const Instant& now, std::vector<double>& memory) {
  memory.push_back(instant ? 1 : 0);
  memory.push_back(instant ? instant->since(now) : 0);
}

void remember(const std::optional<Place>& place, const Instant& now, std::vector<double>& memory) {
  remember(place ? std::optional(place->at) : std::nullopt, now, memory);
}

void shift_if_since(std::optional<Instant>& instant, const Instant& by, const Instant& began) {
  if (instant && instant->since(began) >= 0) instant = instant->plus(by);
}

void shift_if_since(std::optional<Place>& place, const Instant& by, const Instant& began) {
  if (place && place->at.since(began) >= 0) place->at = place->at.plus(by);
}

bool take_if_since(std::optional<Instant>& own, const std::optional<Instant>& other, const Instant& by,
                   const Instant& began) {
  if (own && other && other->since(began) < 0) return false;
  own = other;
  if (own) own = own->plus(by);
  return true;
}

bool take_if_since(std::optional<Place>& own, const std::optional<Place>& other, const Instant& by,
                   const Instant& began) {
  if (own && other && other->at.since(began) < 0) return false;
  own = other;
  if (own) own->at = own->at.plus(by);
  return true;
}

void tidy_times(std::vector<double>& times, double length) {
  const double same = kRounding * length;
  std::sort(times.begin(), times.end());
  std::vector<double> kept;
  for (const double time : times) {
    if (time <= same || time >= length - same) continue;
    if (kept.empty() || time - kept.back() > same) kept.push_back(time);
  }
  times = std::move(kept);
}

}  // namespace rules
}  // namespace rampart
