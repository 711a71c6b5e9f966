#pragma once

#include <cstdint>
#include <span>
#include <string_view>

#include "lang/values/quantity.h"

// What an expectation can ask for: figures of a run, and causes of a trip. A new one is an enumerator, its row in
// figure_kind.cpp, and the place that computes it.
namespace rampart {

enum class Figure : std::uint8_t {
  Duration,
  Energy,
  Charge,
  PeakPower,
  PeakCurrent,
  PeakVoltage,
  CcTime,
  Voltage,
  Current
};

// What a figure is asked of.
enum class FigureOf : std::uint8_t { Nothing, Rail, RailOrTotal, RailAtMark };

struct FigureRow {
  Figure kind{};
  std::string_view name;  // in a profile
  std::string_view unit;
  FigureOf of{};
  Dimension dimension;
  std::string_view form;  // how it is written
};

[[nodiscard]] std::span<const FigureRow> figure_rows();
[[nodiscard]] const FigureRow& row_of(Figure figure);

enum class TripCause : std::uint8_t { Fuse, Overvoltage, Overpower, Overtemperature, Linked };

struct TripCauseRow {
  TripCause kind{};
  std::string_view name;            // in a profile and in JSON
  std::string_view words;           // for people: "overvoltage protection"
  bool is_expected_by_name = true;  // `expect trip RAIL by NAME`
};

[[nodiscard]] std::span<const TripCauseRow> trip_cause_rows();
[[nodiscard]] std::string_view trip_cause_name(TripCause cause);
[[nodiscard]] std::string_view trip_cause_words(TripCause cause);

}  // namespace rampart
