#pragma once

#include "compiler/checks/context.h"

// The checks, one function each. All of them are listed in checks.cpp.
namespace rampart::checks {

// setpoints.cpp: values against the ranges of the channels and the ceilings of the profile
void check_voltage_range(const Context& context);
void check_current_range(const Context& context);
void check_zero_limit(const Context& context);
void check_ceiling(const Context& context);
void check_resolution(const Context& context);

// power.cpp
void check_power_envelope(const Context& context);
void check_total_power(const Context& context);

// spacing.cpp: how soon after each other, and what stands at the instant of switching on
void check_spacing(const Context& context);

// waveforms.cpp: where they begin
void check_waveform_start(const Context& context);

// pace.cpp: how fast and how fine
void check_grid(const Context& context);
void check_slew(const Context& context);
void check_coarse_ramps(const Context& context);

// protection.cpp: settings against what the channels have
void check_overvoltage_setting(const Context& context);
void check_fuse_setting(const Context& context);
void check_overpower_setting(const Context& context);
void check_links(const Context& context);
void check_bench_features(const Context& context);

// protection_practice.cpp: is it there, and can it act
void check_protection_present(const Context& context);
void check_trip_distance(const Context& context);
void check_fuse_acts(const Context& context);
void check_overpower_acts(const Context& context);

// switching.cpp
void check_limit_before_on(const Context& context);
void check_hot_switch(const Context& context);
void check_ramp_while_off(const Context& context);
void check_left_on(const Context& context);
void check_effect(const Context& context);

// readings.cpp: what changes while a reading takes its mean
void check_readings(const Context& context);

// phases.cpp: rules of a phase that does not end
void check_phases(const Context& context);

// people.cpp: what can hurt someone
void check_safe_state(const Context& context);
void check_touch_voltage(const Context& context);
void check_unattended(const Context& context);

}  // namespace rampart::checks
