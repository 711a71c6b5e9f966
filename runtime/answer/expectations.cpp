#include "runtime/answer/expectations.h"

#include <algorithm>

#include "lang/text/overloaded.h"

namespace rampart {
namespace {

class Judge {
 public:
  explicit Judge(const Simulation& simulation) : simulation_(simulation) {}

  ExpectationResult judge(const Expectation& expectation) const {
    ExpectationResult result;
    result.text = expectation.text;
    result.span = expectation.span;
    result.under_fault = expectation.fault.has_value();
    std::visit(Overloaded{[&](const ExpectNoTrip&) { judge_no_trip(result); },
                          [&](const ExpectTrip& expected) { judge_trip(expected, result); },
                          [&](const ExpectFigure& expected) { judge_figure(expected, result); }},
               expectation.what);
    return result;
  }

 private:
  void judge_no_trip(ExpectationResult& result) const {
    result.kind = ExpectationKind::NoTrip;
    const auto trips = std::count_if(simulation_.rails.begin(), simulation_.rails.end(),
                                     [](const RailFigures& rail) { return rail.trip.has_value(); });
    result.value = static_cast<double>(trips);
    result.holds = trips == 0;
  }

  void judge_trip(const ExpectTrip& expected, ExpectationResult& result) const {
    const std::optional<Trip>& trip = simulation_.rails[static_cast<std::size_t>(expected.rail)].trip;
    result.kind = ExpectationKind::Trip;
    result.unit = "s";
    result.holds = trip && trip->cause == expected.cause;
    if (result.holds) result.value = trip->time_s;
  }

  void judge_figure(const ExpectFigure& expected, ExpectationResult& result) const {
    result.kind = ExpectationKind::Figure;
    result.unit = row_of(expected.figure).unit;
    result.value = read(expected);
    if (!result.value) return;
    if (const Peak* peak = peak_of(expected)) result.reached = *peak;
    result.bound = expected.bound.value.to_double();
    result.margin = expected.at_most ? result.bound - *result.value : *result.value - result.bound;
    result.holds = expected.strict ? *result.margin > 0 : *result.margin >= 0;
  }

  // Null for a figure of the whole run, or at a mark.
  [[nodiscard]] const Peak* peak_of(const ExpectFigure& expected) const {
    if (!expected.rail) return expected.figure == Figure::PeakPower ? &simulation_.total_power_W : nullptr;
    const RailFigures& rail = simulation_.rails[static_cast<std::size_t>(*expected.rail)];
    switch (expected.figure) {
      case Figure::PeakPower:
        return &rail.power_W;
      case Figure::PeakCurrent:
        return &rail.current_A;
      case Figure::PeakVoltage:
        return &rail.voltage_V;
      default:
        return nullptr;
    }
  }

  [[nodiscard]] std::optional<double> read(const ExpectFigure& expected) const {
    if (expected.figure == Figure::Duration) return simulation_.duration_s;
    if (!expected.rail) {
      return expected.figure == Figure::PeakPower ? simulation_.total_power_W.value : simulation_.total_energy_J;
    }
    const RailFigures& rail = simulation_.rails[static_cast<std::size_t>(*expected.rail)];
    switch (expected.figure) {
      case Figure::Energy:
        return rail.energy_J;
      case Figure::Charge:
        return rail.charge_C;
      case Figure::PeakPower:
        return rail.power_W.value;
      case Figure::PeakCurrent:
        return rail.current_A.value;
      case Figure::PeakVoltage:
        return rail.voltage_V.value;
      case Figure::CcTime:
        return rail.cc_time_s;
      default:
        return read_at_mark(expected, rail);
    }
  }

  // A mark reached several times is judged where it is worst.
  static std::optional<double> read_at_mark(const ExpectFigure& expected, const RailFigures& rail) {
    for (const MarkReading& reading : rail.marks) {
      if (!expected.mark || reading.mark != *expected.mark || reading.reached == 0) continue;
      if (expected.figure == Figure::Voltage) return expected.at_most ? reading.high_voltage_V : reading.low_voltage_V;
      return expected.at_most ? reading.high_current_A : reading.low_current_A;
    }
    return std::nullopt;
  }

  const Simulation& simulation_;
};

// True if `rail` switches off when the fuse of `leader` acts.
bool linked(const Profile& profile, RailId rail, RailId leader) {
  const std::optional<Fuse>& fuse = profile[leader].protection.fuse;
  return fuse && std::find(fuse->linked.begin(), fuse->linked.end(), rail) != fuse->linked.end();
}

}  // namespace

std::vector<ExpectationResult> judge_expectations(const Profile& profile, const Simulation& simulation,
                                                  const std::optional<std::string>& fault) {
  const Judge judge(simulation);
  std::vector<ExpectationResult> results;
  for (const Expectation& expectation : profile.expectations) {
    if (expectation.fault == fault) results.push_back(judge.judge(expectation));
  }
  return results;
}

bool trip_expected(const Profile& profile, RailId rail, TripCause cause, const std::optional<std::string>& fault) {
  return std::any_of(profile.expectations.begin(), profile.expectations.end(), [&](const Expectation& expectation) {
    const auto* expected = std::get_if<ExpectTrip>(&expectation.what);
    if (expected == nullptr || expectation.fault != fault) return false;
    if (expected->rail == rail) return expected->cause == cause;
    return cause == TripCause::Linked && expected->cause == TripCause::Fuse && linked(profile, rail, expected->rail);
  });
}

std::optional<RailId> pulled_by(const Profile& profile, const Simulation& simulation, RailId rail) {
  const std::optional<Trip>& trip = simulation.rails[static_cast<std::size_t>(rail)].trip;
  if (!trip || trip->cause != TripCause::Linked) return std::nullopt;
  for (std::size_t i = 0; i < profile.rails.size(); ++i) {
    const std::optional<Trip>& other = simulation.rails[i].trip;
    const RailId leader{static_cast<std::uint32_t>(i)};
    if (!other || other->cause != TripCause::Fuse || other->time_s != trip->time_s) continue;
    if (linked(profile, rail, leader)) return leader;
  }
  return std::nullopt;
}

}  // namespace rampart
