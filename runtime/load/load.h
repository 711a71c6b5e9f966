#pragma once

#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "lang/findings/finding.h"
#include "lang/text/source.h"
#include "lang/values/quantity.h"

// What the device looks like to each rail. SI units in doubles: the simulation is where exact numbers end.
namespace rampart {

// A nominal value with its tolerance ends; low == nominal == high where none is given.
struct Toleranced {
  double nominal = 0;
  double low = 0;
  double high = 0;
  friend bool operator==(const Toleranced&, const Toleranced&) = default;
};

struct ResistorElement {
  Toleranced resistance;
  friend bool operator==(const ResistorElement&, const ResistorElement&) = default;
};
struct CapacitorElement {
  Toleranced capacitance;
  Toleranced esr;                     // 0: none
  std::optional<Toleranced> leakage;  // resistance across the ideal capacitor
  double initial_voltage = 0;
  friend bool operator==(const CapacitorElement&, const CapacitorElement&) = default;
};
struct InductorElement {
  Toleranced inductance;
  Toleranced resistance;  // in series
  double initial_current = 0;
  friend bool operator==(const InductorElement&, const InductorElement&) = default;
};
struct ConstantCurrentElement {
  Toleranced current;
  double from = 0;  // the voltage where it starts
  friend bool operator==(const ConstantCurrentElement&, const ConstantCurrentElement&) = default;
};
struct ConstantPowerElement {
  Toleranced power;
  Toleranced starts_at;
  Toleranced stops_at;
  Toleranced input_capacitance;
  double initial_voltage = 0;
  double soft_start = 0;  // s, from 0 to full power
  Toleranced quiescent_current;
  friend bool operator==(const ConstantPowerElement&, const ConstantPowerElement&) = default;
};
struct DiodeElement {
  Toleranced saturation_current;
  Toleranced ideality;
  Toleranced series_resistance;
  double in_series = 1;
  double temperature = 300;
  friend bool operator==(const DiodeElement&, const DiodeElement&) = default;
};
struct LampElement {
  Toleranced rated_voltage;
  Toleranced rated_power;
  Toleranced cold_resistance;
  Toleranced heat_capacity;
  double cold_temperature = 300;
  double exponent = 1.2;
  friend bool operator==(const LampElement&, const LampElement&) = default;
};
struct CurveElement {
  std::vector<std::pair<double, double>> points;  // V, A; rising voltage
  friend bool operator==(const CurveElement&, const CurveElement&) = default;
};
struct PulsedCurrentElement {
  Toleranced current;
  double on = 0;
  double period = 0;
  double from = 0;
  double rest = 0;
  friend bool operator==(const PulsedCurrentElement&, const PulsedCurrentElement&) = default;
};
struct SourceElement {
  Toleranced voltage;
  Toleranced resistance;
  friend bool operator==(const SourceElement&, const SourceElement&) = default;
};
struct LoadProfileElement {
  Toleranced power_good;
  std::vector<std::pair<double, double>> draws;  // s since power-good, A
  std::optional<Toleranced> input_capacitance;
  friend bool operator==(const LoadProfileElement&, const LoadProfileElement&) = default;
};

struct LoadElement {
  Span span;
  std::string kind;
  std::variant<ResistorElement, CapacitorElement, InductorElement, ConstantCurrentElement, ConstantPowerElement,
               DiodeElement, LampElement, CurveElement, PulsedCurrentElement, SourceElement, LoadProfileElement>
      what;
};

struct RailLoad {
  std::string rail;
  Span span;
  Toleranced wire;                    // there and back, between terminals and load
  std::vector<LoadElement> elements;  // all in parallel behind the wire
};

// At `mark` + `after` (which may be negative), the rail's elements become `becomes` (an empty list is an open circuit).
struct Fault {
  std::string name;
  Span span;
  std::string rail;
  std::optional<std::string> mark;  // none: counted from the start of the run
  Nanoseconds after{0};
  std::vector<LoadElement> becomes;
  Span mark_span;  // of the mark's name, where there is one
};

struct Load {
  FileId file{};
  std::string title;
  std::vector<RailLoad> rails;
  std::vector<Fault> faults;

  [[nodiscard]] const RailLoad* find_rail(std::string_view name) const;
  [[nodiscard]] const Fault* find_fault(std::string_view name) const;
};

// Reads a load file. Empty when the findings hold an error of this file; every mistake is reported, not the first.
[[nodiscard]] std::optional<Load> read_load(const SourceSet& sources, FileId file, FindingSink& findings);

}  // namespace rampart
