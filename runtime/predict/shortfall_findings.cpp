#include "runtime/predict/shortfall_findings.h"

#include <algorithm>
#include <cmath>

#include "lang/findings/predicted.h"
#include "runtime/rail/bleeder.h"
#include "runtime/rail/settling.h"

namespace rampart {
namespace {

// Ends of two runs that differ by less are one.
constexpr double kSameVolts = 1e-6;
// What a bleeder is given to clear a rail, s.
constexpr double kClearingTime = 1;

constexpr const char* kFed =
    "the `source` in its load feeds it from outside, so a ramp or a bleeder cannot pull it down: disconnect the source "
    "first, or block its current with a diode";

// The next larger number with one digit, of what surely is long enough.
double ample(double seconds) {
  const double wanted = 1.5 * seconds;
  if (wanted <= 0) return 1e-3;
  const double digit = std::pow(10.0, std::floor(std::log10(wanted)));
  return std::ceil(wanted / digit) * digit;
}

double two_digits_up(double value) {
  const double scale = std::pow(10.0, std::floor(std::log10(value)) - 1);
  return std::ceil(value / scale * (1 - 1e-9)) * scale;
}

class ShortfallReport {
 public:
  ShortfallReport(const Profile& profile, const Load& load, const Simulation& simulation, FindingSink& findings)
      : profile_(profile), load_(load), simulation_(simulation), findings_(findings) {}

  // Charge that is left, where `plain` does not leave as much.
  void report_left(std::size_t index, const Simulation& plain, const std::string& in_run) {
    rail_ = &profile_.rails[index];
    figures_ = &simulation_.rails[index];
    const bool is_known = std::abs(plain.rails[index].final_voltage_V - figures_->final_voltage_V) <= kSameVolts;
    if (is_left_charged() && !is_known) report_left_charged(in_run);
  }

  void report(std::size_t index) {
    rail_ = &profile_.rails[index];
    figures_ = &simulation_.rails[index];
    const Shortfalls& shortfalls = figures_->shortfalls;
    if (shortfalls.not_settled && !figures_->trip) report_not_settled(*shortfalls.not_settled);
    if (shortfalls.headroom) report_headroom(*shortfalls.headroom);
    if (shortfalls.charged_at_on) report_charged_at_on(*shortfalls.charged_at_on);
    if (shortfalls.cannot_sink && !told_later(*shortfalls.cannot_sink)) report_cannot_sink(*shortfalls.cannot_sink);
    if (is_left_charged()) report_left_charged("");
  }

 private:
  void report_not_settled(const MissedSetpoint& missed) {
    const std::string hint = missed.needs_s ? "it takes " + to_text(*missed.needs_s, "s") +
                                                  " more: dwell longer, ramp more slowly or raise the current limit"
                                            : std::string("raise the current limit, or lower what the load draws");
    findings_
        .report(finding::NotSettled, missed.statement, rail_->name, to_text(missed.voltage_V, "V"),
                to_text(missed.setpoint_V, "V"), to_text(missed.time_s, "s"), in_pass(missed.passes),
                to_text(missed.had_s, "s"))
        .hint(hint);
  }

  // What is charged at the end or at the next `on` has its own finding.
  [[nodiscard]] bool told_later(const MissedSetpoint& missed) const {
    const bool at_end = missed.was_off || missed.time_s >= simulation_.duration_s * (1 - 1e-12);
    return (at_end && is_left_charged()) || (missed.was_off && figures_->shortfalls.charged_at_on);
  }

  void report_cannot_sink(const MissedSetpoint& missed) {
    findings_
        .report(finding::CannotSink, missed.statement, rail_->name, to_text(missed.setpoint_V, "V"),
                to_text(missed.voltage_V, "V"), to_text(missed.time_s, "s"), in_pass(missed.passes))
        .hint(is_fed() ? std::string(kFed) : way_down(missed));
  }

  [[nodiscard]] std::string way_down(const MissedSetpoint& missed) const {
    std::string text = "nothing discharges it in time";
    if (missed.needs_s) {
      text = "it takes " + to_text(*missed.needs_s, "s") +
             " more: " + wait_for(to_text(missed.enough_V, "V"), to_text(ample(missed.had_s + *missed.needs_s), "s"));
    }
    text += missed.needs_s ? ", or give the load a bleeder" : ": give the load a bleeder";
    if (const std::optional<Bleeder> found = bleeder_for(missed)) {
      text += " of " + to_text(found->resistance_Ohm, "Ohm") + " or less";
    }
    return text;
  }

  // Voltages in the answer have the rail's sign, those of its circuit have none.
  [[nodiscard]] static std::optional<Bleeder> bleeder_for(const MissedSetpoint& missed) {
    if (!missed.from || missed.had_s <= 0) return std::nullopt;
    const circuit::Setting setting{std::abs(missed.setpoint_V), 0, missed.limit_A, 0, true};
    const std::optional<Bleeder> found =
        find_bleeder({*missed.from, setting, std::abs(missed.enough_V), missed.at_load, missed.had_s});
    return found && found->time_s <= missed.had_s ? found : std::nullopt;
  }

  [[nodiscard]] std::string wait_for(const std::string& level, const std::string& time) const {
    return "wait with `await " + rail_->name + (rail_->reversed ? " >= " : " <= ") + level + " within " + time + "`";
  }

  void report_charged_at_on(const ChargedAtOn& charged) {
    const std::string level = to_text(rail_->reversed ? -kChargedVolts : kChargedVolts, "V");
    findings_
        .report(finding::ResidualAtOn, charged.statement, rail_->name, to_text(charged.voltage_V, "V"),
                to_text(charged.time_s, "s"), in_pass(charged.passes))
        .hint(is_fed() ? std::string(kFed)
                       : "before `on`, " + wait_for(level, "10 s") + ", or give the load a bleeder");
  }

  void report_headroom(const HeadroomSpent& spent) {
    findings_
        .report(finding::SenseHeadroom, spent.statement, rail_->name, to_text(spent.shortfall_V, "V"),
                to_text(spent.setpoint_V, "V"), to_text(spent.time_s, "s"), in_pass(spent.passes),
                to_text(spent.headroom_V, "V"), to_text(spent.current_A, "A"))
        .hint("use thicker or shorter leads, or draw less");
  }

  // Without anything stored the voltage is gone as soon as the supply is.
  [[nodiscard]] bool is_left_charged() const {
    if (figures_->stored_J <= kHarmlessJoules) return false;
    return is_charged(figures_->final_voltage_V) || figures_->stored_J > kChargedJoules;
  }

  void report_left_charged(const std::string& in_run) {
    findings_
        .report(finding::LeftCharged, profile_.run_span, rail_->name, to_text(figures_->final_voltage_V, "V"),
                to_text(figures_->stored_J, "J"), in_run)
        .hint(is_fed() ? std::string(kFed) : way_to_clear() + "; discharge it before anyone touches it");
  }

  [[nodiscard]] std::string way_to_clear() const {
    const std::string level = to_text(kChargedVolts, "V");
    const std::string bleeder = "give the load a bleeder" + clearing_bleeder();
    if (!is_charged(figures_->final_voltage_V)) return "ramp it down and wait, or " + bleeder;
    if (!figures_->clears_s) return "nothing discharges it to " + level + " within a day: " + bleeder;
    const std::string alone = "it discharges to " + level + " by itself within " +
                              to_text(two_digits_up(*figures_->clears_s), "s") + " after the end: wait for that";
    return *figures_->clears_s <= kClearingTime ? alone : alone + ", or " + bleeder;
  }

  [[nodiscard]] std::string clearing_bleeder() const {
    if (!figures_->left) return {};
    const std::optional<Bleeder> found =
        find_bleeder({*figures_->left, circuit::Setting{}, kChargedVolts, true, kClearingTime});
    if (!found) return {};
    return " (" + to_text(found->resistance_Ohm, "Ohm") + " discharges it in " +
           to_text(two_digits_up(found->time_s), "s") + ")";
  }

  [[nodiscard]] bool is_fed() const {
    const RailLoad* load = load_.find_rail(rail_->name);
    return load != nullptr && std::any_of(load->elements.begin(), load->elements.end(), [](const LoadElement& element) {
             return std::holds_alternative<SourceElement>(element.what);
           });
  }

  const Profile& profile_;
  const Load& load_;
  const Simulation& simulation_;
  FindingSink& findings_;
  const Rail* rail_ = nullptr;
  const RailFigures* figures_ = nullptr;
};

}  // namespace

void report_left_charged(const Profile& profile, const Load& load, const Simulation& simulation,
                         const Simulation& plain, const std::string& in_run, FindingSink& findings) {
  ShortfallReport report(profile, load, simulation, findings);
  for (std::size_t i = 0; i < profile.rails.size(); ++i) report.report_left(i, plain, in_run);
}

void report_shortfalls(const Profile& profile, const Load& load, const Simulation& simulation, FindingSink& findings) {
  ShortfallReport report(profile, load, simulation, findings);
  for (std::size_t i = 0; i < profile.rails.size(); ++i) report.report(i);
}

}  // namespace rampart
