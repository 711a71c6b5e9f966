#pragma once

#include "tests/support/simulation_case.h"

// Load elements that are not linear, in a few words.
namespace rampart::test {

inline LoadElement constant_current(double current, double from = 0) {
  return {{}, ConstantCurrentElement{exactly(current), from}};
}

inline LoadElement converter(double power, double starts_at, double stops_at, double capacitance, double soft_start = 0,
                             double quiescent = 0) {
  ConstantPowerElement element;
  element.power = exactly(power);
  element.starts_at = exactly(starts_at);
  element.stops_at = exactly(stops_at);
  element.input_capacitance = exactly(capacitance);
  element.soft_start = soft_start;
  element.quiescent_current = exactly(quiescent);
  return {{}, element};
}

inline LoadElement diode(double saturation, double ideality, double resistance, double temperature,
                         double in_series = 1) {
  DiodeElement element;
  element.saturation_current = exactly(saturation);
  element.ideality = exactly(ideality);
  element.series_resistance = exactly(resistance);
  element.temperature = temperature;
  element.in_series = in_series;
  return {{}, element};
}

inline LoadElement lamp(double heat_capacity = 2e-3) {
  LampElement element;
  element.rated_voltage = exactly(12);
  element.rated_power = exactly(30);
  element.cold_resistance = exactly(0.35);
  element.heat_capacity = exactly(heat_capacity);
  return {{}, element};
}

inline LoadElement curve(std::vector<std::pair<double, double>> points) {
  return {{}, CurveElement{std::move(points)}};
}

inline LoadElement clamp(double breakdown, double resistance) {
  return {{}, ClampElement{exactly(breakdown), exactly(resistance)}};
}

inline LoadElement pulses(double current, double on, double period, double rest = 0) {
  PulsedCurrentElement element;
  element.current = exactly(current);
  element.on = on;
  element.period = period;
  element.rest = rest;
  return {{}, element};
}

inline LoadElement load_profile(double power_good, std::vector<std::pair<double, double>> draws) {
  LoadProfileElement element;
  element.power_good = exactly(power_good);
  element.draws = std::move(draws);
  return {{}, element};
}

}  // namespace rampart::test
