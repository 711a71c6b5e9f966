#include "compiler/profile/figure_kind.h"

#include <array>

#include "lang/values/kind_rows.h"

namespace rampart {
namespace {

constexpr auto kFigures = std::to_array<FigureRow>({
    {Figure::Duration, "duration", "s", FigureOf::Nothing, dimension::kTime, "`duration`"},
    {Figure::Energy, "energy", "J", FigureOf::RailOrTotal, dimension::kEnergy, "`energy(RAIL)` or `energy(total)`"},
    {Figure::Charge, "charge", "C", FigureOf::Rail, dimension::kCharge, "`charge(RAIL)`"},
    {Figure::PeakPower, "peak_power", "W", FigureOf::RailOrTotal, dimension::kPower,
     "`peak_power(RAIL)` or `peak_power(total)`"},
    {Figure::PeakCurrent, "peak_current", "A", FigureOf::Rail, dimension::kCurrent, "`peak_current(RAIL)`"},
    {Figure::PeakVoltage, "peak_voltage", "V", FigureOf::Rail, dimension::kVoltage, "`peak_voltage(RAIL)`"},
    {Figure::CcTime, "cc_time", "s", FigureOf::Rail, dimension::kTime, "`cc_time(RAIL)`"},
    {Figure::Voltage, "voltage", "V", FigureOf::RailAtMark, dimension::kVoltage, "`voltage(RAIL) at \"MARK\"`"},
    {Figure::Current, "current", "A", FigureOf::RailAtMark, dimension::kCurrent, "`current(RAIL) at \"MARK\"`"},
});
static_assert(rows_in_order(kFigures, static_cast<std::size_t>(Figure::Current) + 1));

constexpr auto kCauses = std::to_array<TripCauseRow>({
    {TripCause::Fuse, "fuse", "electronic fuse"},
    {TripCause::Overvoltage, "overvoltage", "overvoltage protection"},
    {TripCause::Overpower, "overpower", "overpower protection"},
    {TripCause::Overtemperature, "overtemperature", "overtemperature protection"},
    {TripCause::Linked, "linked", "linked", false},
});
static_assert(rows_in_order(kCauses, static_cast<std::size_t>(TripCause::Linked) + 1));

}  // namespace

std::span<const FigureRow> figure_rows() {
  return kFigures;
}

const FigureRow& row_of(Figure figure) {
  return kFigures[static_cast<std::size_t>(figure)];
}

std::span<const TripCauseRow> trip_cause_rows() {
  return kCauses;
}

std::string_view trip_cause_name(TripCause cause) {
  return kCauses[static_cast<std::size_t>(cause)].name;
}

std::string_view trip_cause_words(TripCause cause) {
  return kCauses[static_cast<std::size_t>(cause)].words;
}

}  // namespace rampart
