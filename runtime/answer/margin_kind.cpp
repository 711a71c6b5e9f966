#include "runtime/answer/margin_kind.h"

#include <array>

#include "lang/findings/limits.h"
#include "lang/findings/practice.h"
#include "lang/findings/predicted.h"
#include "lang/values/kind_rows.h"

namespace rampart {
namespace {

constexpr const char* kLeaveRoom = "leave room for what the model does not know, or ";

void thin_protection(const MarginReport& report, FindingSink& findings) {
  findings
      .report(finding::ThinMargin, report.statement, report.kind, report.rail, report.distance, report.percent,
              report.limit, report.in_pass)
      .hint(std::string(kLeaveRoom) + "check it with the tolerances of the load" + report.advice);
}

void thin_power(const MarginReport& report, FindingSink& findings) {
  findings
      .report(finding::ThinPower, report.statement, report.rail, report.distance, report.owner, report.percent,
              report.limit, report.in_pass)
      .hint(std::string(kLeaveRoom) + "use an output that can deliver more");
}

void thin_total_power(const MarginReport& report, FindingSink& findings) {
  findings
      .report(finding::ThinTotalPower, report.statement, report.owner, report.distance, report.percent, report.limit,
              report.in_pass)
      .hint(std::string(kLeaveRoom) + "move a rail to another supply");
}

void thin_settling(const MarginReport& report, FindingSink& findings) {
  findings
      .report(finding::ThinSettling, report.statement, report.rail, report.distance, report.percent, report.limit,
              report.in_pass)
      .hint("dwell longer: a load with a little more capacitance would not settle in time");
}

void power_exceeded(const MarginReport& report, FindingSink& findings) {
  findings
      .report(finding::PowerExceeded, report.statement, report.rail, report.reached, report.at, report.in_pass,
              report.distance, report.limit, report.owner)
      .hint("lower the setpoint or the current limit, or use an output that can deliver it");
}

void total_power_exceeded(const MarginReport& report, FindingSink& findings) {
  findings
      .report(finding::TotalPowerExceeded, report.statement, report.owner, report.reached, report.at, report.in_pass,
              report.distance, report.limit)
      .hint("draw less at one time, or move a rail to another supply");
}

Span fuse_place(const Protection& protection) {
  return protection.fuse ? protection.fuse->span : Span{};
}

Span overvoltage_place(const Protection& protection) {
  return protection.overvoltage ? protection.overvoltage->span : Span{};
}

Span overpower_place(const Protection& protection) {
  return protection.overpower ? protection.overpower->span : Span{};
}

std::vector<Span> fuse_settings(const Protection& protection) {
  if (!protection.fuse) return {};
  std::vector<Span> places{protection.fuse->delay.span};
  if (protection.fuse->current) places.push_back(protection.fuse->current->span);
  return places;
}

std::vector<Span> overpower_settings(const Protection& protection) {
  if (!protection.overpower) return {};
  return {protection.overpower->power.span};
}

std::string overpower_reason(const std::string& reached, const std::string& limit, bool /*holds*/) {
  return "the output gave " + reached + "; the protection acts above " + limit;
}

std::string drawn_reason(const std::string& reached, const std::string& limit, bool /*holds*/) {
  return reached + " was drawn; the limit is " + limit;
}

constexpr std::array kMarginRows =
    std::to_array<MarginRow>(
        {
            {.kind = MarginKind::Fuse,
             .name = "fuse",
             .words = "fuse",
             .unit = "s",
             .is_time = true,
             .owner = MarginOwner::Rail,
             .trips_by = TripCause::Fuse,
             .left = "{} of {} delay left",
             .threshold = fuse_place,
             .never_acts = &finding::FuseNeverActs.wording,
             .never_acts_at = fuse_settings,
             .reason =
                 [](const std::string& reached, const std::string& limit, bool /*holds*/) {
                   return "the condition of the fuse lasted up to " + reached + "; it acts after " + limit;
                 },
             .report_thin = thin_protection},
            {.kind = MarginKind::Overvoltage,
             .name = "overvoltage",
             .words = "overvoltage protection",
             .unit = "V",
             .owner = MarginOwner::Rail,
             .trips_by = TripCause::Overvoltage,
             .threshold = overvoltage_place,
             .reason =
                 [](const std::string& reached, const std::string& limit, bool /*holds*/) {
                   return "the terminals reached " + reached + "; the protection acts above " + limit;
                 },
             .report_thin = thin_protection},
            {.kind = MarginKind::OverpowerDelay,
             .name = "overpower-delay",
             .words = "overpower delay",
             .unit = "s",
             .is_time = true,
             .owner = MarginOwner::Rail,
             .trips_by = TripCause::Overpower,
             .threshold = overpower_place,
             .never_acts = &finding::OverpowerNeverActs.wording,
             .never_acts_at = overpower_settings,
             .reason =
                 [](const std::string& reached, const std::string& limit, bool /*holds*/) {
                   return "the output was above the threshold for up to " + reached + "; the protection acts after " +
                          limit;
                 },
             .report_thin = thin_protection},
            {.kind = MarginKind::OverpowerLevel,
             .name = "overpower-level",
             .words = "overpower headroom",
             .unit = "W",
             .owner = MarginOwner::Rail,
             .trips_by = TripCause::Overpower,
             .judged = MarginJudged::WhileHeld,
             .threshold = overpower_place,
             .never_acts = &finding::OverpowerNeverActs.wording,
             .never_acts_at = overpower_settings,
             .reason = overpower_reason,
             .report_thin = thin_protection},
            {.kind = MarginKind::Overpower,
             .name = "overpower",
             .words = "overpower protection",
             .unit = "W",
             .owner = MarginOwner::Rail,
             .trips_by = TripCause::Overpower,
             .threshold = overpower_place,
             .never_acts = &finding::OverpowerNeverActs.wording,
             .never_acts_at = overpower_settings,
             .reason = overpower_reason,
             .report_thin = thin_protection},
            {.kind = MarginKind::Overtemperature,
             .name = "overtemperature",
             .words = "overtemperature protection",
             .unit = "K",
             .owner = MarginOwner::Channel,
             .trips_by = TripCause::Overtemperature,
             .reason =
                 [](const std::string& reached, const std::string& limit, bool /*holds*/) {
                   return "the output stage reached " + reached + " above ambient; it switches off at " + limit +
                          " above";
                 },
             .report_thin = thin_protection},
            {.kind = MarginKind::CurrentLimit,
             .name = "current-limit",
             .words = "current limit",
             .unit = "A",
             .owner = MarginOwner::Rail,
             .judged = MarginJudged::WhereAsked,
             .reason = drawn_reason},
            {.kind = MarginKind::PowerEnvelope,
             .name = "power-envelope",
             .words = "output power",
             .unit = "W",
             .owner = MarginOwner::Output,
             .reason = drawn_reason,
             .report_exceeded = power_exceeded,
             .report_thin = thin_power},
            {.kind = MarginKind::Settling,
             .name = "settling",
             .words = "settling time",
             .unit = "s",
             .is_time = true,
             .owner = MarginOwner::Rail,
             .beyond = "{} too late, it had {}",
             .reason =
                 [](const std::string& reached, const std::string& limit, bool holds) {
                   return holds ? "the rail settled after " + reached + "; its setpoint lasted " + limit
                                : "the rail had not settled when its setpoint ended after " + limit;
                 },
             .report_thin = thin_settling},
            {.kind = MarginKind::TotalPower,
             .name = "total-power",
             .words = "supply power",
             .unit = "W",
             .owner = MarginOwner::Supply,
             .reason = drawn_reason,
             .report_exceeded = total_power_exceeded,
             .report_thin = thin_total_power},
        });
static_assert(rows_in_order(kMarginRows, static_cast<std::size_t>(MarginKind::TotalPower) + 1));

}  // namespace

const MarginRow& row_of(MarginKind kind) {
  return kMarginRows[static_cast<std::size_t>(kind)];
}

}  // namespace rampart
