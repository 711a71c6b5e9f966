#include "compiler/checks/checks.h"

#include "compiler/checks/families.h"

namespace rampart {
namespace {

constexpr void (*kChecks[])(const checks::Context&) = {
    checks::check_voltage_range,
    checks::check_current_range,
    checks::check_zero_limit,
    checks::check_ceiling,
    checks::check_resolution,
    checks::check_power_envelope,
    checks::check_total_power,
    checks::check_spacing,
    checks::check_grid,
    checks::check_slew,
    checks::check_coarse_ramps,
    checks::check_overvoltage_setting,
    checks::check_fuse_setting,
    checks::check_overpower_setting,
    checks::check_links,
    checks::check_bench_features,
    checks::check_protection_present,
    checks::check_trip_distance,
    checks::check_fuse_acts,
    checks::check_overpower_acts,
    checks::check_limit_before_on,
    checks::check_hot_switch,
    checks::check_ramp_while_off,
    checks::check_left_on,
    checks::check_effect,
    checks::check_readings,
    checks::check_safe_state,
    checks::check_touch_voltage,
    checks::check_unattended,
    checks::check_phases,
    checks::check_waveform_start,
};

}  // namespace

std::vector<HighestDemand> run_checks(const Table& run, const Table* safe, FindingSink& findings) {
  std::vector<bool> acceptance_used(run.profile().acceptances.size(), false);
  const checks::Context context(run, safe, findings, acceptance_used);
  for (const auto& check : kChecks) check(context);
  context.report_unused_acceptances();
  return context.demands_of_run;
}

}  // namespace rampart
