#include "runtime/cli/text/run_text.h"

#include <algorithm>
#include <cmath>

#include "compiler/export/decimal.h"
#include "lang/values/short_text.h"
#include "runtime/bench_run/words.h"

namespace rampart::cli {
namespace {

using bench_run::OutputState;
using bench_run::SupplyState;

// Above this a touch can hurt: the usual limit of extra-low voltage, in V.
constexpr double kTouchVolts = 60;
constexpr std::string_view kTouchCaution =
    "caution: above 60 V DC touching a conductor can hurt or kill; measure before you touch\n";

std::string listed(const std::vector<std::string>& names) {
  std::string text;
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (i > 0) text += i + 1 == names.size() ? " and " : ", ";
    text += names[i];
  }
  return text;
}

std::string padded(std::string text, std::size_t width) {
  text.resize(std::max(width, text.size()), ' ');
  return text;
}

std::string right(const std::string& text, std::size_t width) {
  return std::string(width - std::min(width, text.size()), ' ') + text;
}

std::string seconds(Nanoseconds time, int decimals) {
  constexpr std::int64_t kNanoPerMilli = 1'000'000;
  std::string text;
  if (decimals == 3) {
    append_decimal(time.count() / kNanoPerMilli, 3, text);
  } else {
    append_short_decimal(time.count(), 9, text);
  }
  return text + " s";
}

std::string output_lines(std::span<const OutputState> outputs) {
  std::size_t width = 0;
  for (const OutputState& output : outputs) width = std::max(width, output.channel.size());
  std::string text;
  bool is_high = false;
  for (const OutputState& output : outputs) {
    text += "  " + padded(output.channel + ":", width + 2) + state_text(output) + "\n";
    is_high = is_high || (output.volts && std::abs(*output.volts) > kTouchVolts);
  }
  return text + std::string(is_high ? kTouchCaution : "");
}

std::string value(const std::optional<double>& number, std::string_view unit) {
  return number ? short_text(*number, unit) : "-";
}

}  // namespace

std::string final_text(std::span<const SupplyState> supplies) {
  std::size_t count = 0;
  for (const SupplyState& supply : supplies) count += supply.outputs.size();
  std::vector<std::string> left;
  for (const OutputState* output : bench_run::not_off(supplies)) left.push_back(output->channel);
  std::string text = left.empty() ? counted(count, "output") + " confirmed off\n"
                                  : listed(left) + " may be on: switch off at the supply\n";
  for (const SupplyState& supply : supplies) {
    text += supply.supply + " (" + supply.place +
            "): " + (supply.identity.empty() ? "no identification" : supply.identity) + "\n" +
            output_lines(supply.outputs);
  }
  return text;
}

std::string run_end_text(const bench_run::RunEnd& end) {
  std::vector<std::string> left;
  std::size_t off = 0;
  for (const OutputState& output : end.outputs) {
    const bool is_meant = std::find(end.left_on.begin(), end.left_on.end(), output.channel) != end.left_on.end();
    if (output.is_off()) ++off;
    if (!output.is_off() && !is_meant) left.push_back(output.channel);
  }
  const std::string reason = (end.is_complete ? "" : "ended early: ") + end.reason + "\n";
  std::string text;
  if (!left.empty()) {
    // What can hurt comes first.
    text = listed(left) + " may be on: switch off at the supply\n" + reason;
  } else if (!end.left_on.empty()) {
    text = reason + listed(end.left_on) +
           (end.is_complete ? ": on, as the table leaves it\n" : ": on, as `safe` leaves it\n");
  } else {
    text = reason + counted(off, "output") + " confirmed off\n";
  }
  text += output_lines(end.outputs);
  return text + "rows acknowledged up to " + bench_run::short_time(end.lateness.worst) +
         " late; late rows moved the run by at most " + bench_run::short_time(end.lateness.shifted) + "\n";
}

std::string event_text(const bench_run::LogRow& row) {
  if (row.kind != bench_run::LogKind::Event) return {};
  const std::string channel = row.channel.empty() ? "" : " (" + row.channel + ")";
  return right(seconds(row.time, 3), 14) + "  " + row.text + channel + "\n";
}

std::vector<std::string> status_text(const bench_run::RunStatus& status) {
  std::size_t width = 4;
  for (const bench_run::RailStatus& rail : status.rails) width = std::max(width, rail.rail.size());
  std::vector<std::string> lines;
  lines.push_back(padded("rail", width) + "  output     setpoint    measured     current  mode");
  for (const bench_run::RailStatus& rail : status.rails) {
    lines.push_back(padded(rail.rail, width) + "  " + (rail.is_on ? "on    " : "off   ") +
                    right(value(rail.set_V, "V"), 13) + right(value(rail.measured_V, "V"), 12) +
                    right(value(rail.measured_A, "A"), 12) + (rail.mode.empty() ? "" : "  " + rail.mode));
  }
  lines.push_back("segment " + (status.segment.empty() ? "-" : status.segment) + ", " +
                  bench_run::short_time(status.time) +
                  (status.left ? ", " + bench_run::short_time(*status.left) + " left without waits" : ""));
  lines.push_back("next: " + (status.next.empty() ? "-" : status.next));
  return lines;
}

void DryRunText::phase(const std::string& name) {
  put_(name + "\n");
}

void DryRunText::message(std::optional<Nanoseconds> time, const std::string& supply, const std::string& text) {
  put_("  " + (time ? right(seconds(*time, 9), 14) : std::string(14, ' ')) + "  " + supply + "  " + text + "\n");
}

void DryRunText::instant(Nanoseconds time, const std::string& what) {
  put_("  " + right(seconds(time, 9), 14) + "  " + what + "\n");
}

void DryRunText::wait(const bench_run::TableWait& wait) {
  put_("  wait for " + wait_text(wait) + "\n");
}

}  // namespace rampart::cli
