#include "runtime/cli/text/fit_text.h"

#include <algorithm>
#include <cmath>

#include "lang/values/quantity.h"
#include "runtime/cli/text/text_table.h"
#include "runtime/fit/digits.h"

namespace rampart::cli {
namespace {

std::string with_digits(double value, int digits, std::string_view unit) {
  if (value == 0 || !std::isfinite(value)) return to_text(0, unit);
  return to_text(fit::rounded_to(value, digits), unit);
}

// Said from here on: what is less is hardly told from nothing.
constexpr double kTold = 1.2;

// What correlations of the noise do to the errors.
std::string noise_text(const fit::Fit& fit) {
  std::string text;
  for (const fit::Residual& one : fit.residuals) {
    if (one.widening < kTold) continue;
    const bool is_voltage = one.quantity == as_run::Measured::Voltage;
    text += std::string("noise of the ") + (is_voltage ? "voltage" : "current") + " of " + one.rail +
            " is correlated from reading to reading: a mean is " + with_digits(one.widening, 2, "") +
            " times as uncertain as with independent noise\n";
  }
  return text.empty() ? text : "\n" + text;
}

// As many digits as the error leaves.
std::string estimate_text(const fit::FittedValue& value) {
  const double error = value.standard_error();
  if (error <= 0) return with_digits(value.estimate, 5, value.unit);
  return to_text(fit::rounded_by(value.estimate, error, 2), value.unit);
}

std::string design_text(const Toleranced& design, std::string_view unit) {
  return with_digits(design.low, 4, unit) + " .. " + with_digits(design.high, 4, unit);
}

}  // namespace

std::string fit_text(const fit::Fit& fit) {
  std::string text = "fitted " + std::to_string(fit.determined()) + " of " + std::to_string(fit.values.size()) +
                     " values with a tolerance\n";
  TextTable values({"value", "design", "tolerance", "estimate", "standard error", "from noise", "from meters"});
  for (const fit::FittedValue& value : fit.values) {
    const std::string nominal = with_digits(value.design.nominal, 5, value.unit);
    const std::string tolerance = design_text(value.design, value.unit);
    if (!value.is_determined) {
      values.add({value.name, nominal, tolerance, "not determined", "", "", ""});
      continue;
    }
    values.add({value.name, nominal, tolerance, estimate_text(value),
                with_digits(value.standard_error(), 2, value.unit), with_digits(value.noise_error, 2, value.unit),
                with_digits(value.meter_error, 2, value.unit)});
  }
  text += "\n" + values.text();
  TextTable residuals({"readings minus prediction, rms", "readings", "before", "after", "noise", "meter allows"});
  for (const fit::Residual& one : fit.residuals) {
    const bool is_voltage = one.quantity == as_run::Measured::Voltage;
    const std::string_view unit = is_voltage ? "V" : "A";
    residuals.add({(is_voltage ? "voltage of " : "current of ") + one.rail, std::to_string(one.readings),
                   with_digits(one.before, 3, unit), with_digits(one.after, 3, unit), with_digits(one.noise, 2, unit),
                   with_digits(one.allowed, 2, unit)});
  }
  text += "\n" + residuals.text() + noise_text(fit);
  if (fit.dropped > 0)
    text += "\n" + std::to_string(fit.dropped) +
            (fit.dropped == 1 ? " reading is an outlier" : " readings are outliers") +
            ", more than six standard deviations off, and not used\n";
  if (!fit.left_out.empty()) {
    text += "\nnot used\n";
    for (const std::string& what : fit.left_out) text += "  " + what + "\n";
  }
  return text;
}

}  // namespace rampart::cli
