#include "runtime/cli/json/fit_json.h"

#include <nlohmann/json.hpp>

#include "lang/text/version.h"
#include "runtime/cli/json/json_parts.h"
#include "runtime/fit/digits.h"

namespace rampart::cli {
namespace {

using Json = nlohmann::ordered_json;

// The estimate to a thousandth of what its error leaves, or so, and errors to three digits.
Json value_json(const fit::FittedValue& value) {
  const auto known = [&value](double number) { return value.is_determined ? Json(number) : Json(nullptr); };
  const double error = value.standard_error();
  Json json{{"name", value.name},
            {"unit", value.unit},
            {"design", value.design.nominal},
            {"design_low", value.design.low},
            {"design_high", value.design.high},
            {"determined", value.is_determined},
            {"estimate", known(fit::rounded_by(value.estimate, error, 4))},
            {"noise_error", known(fit::rounded_to(value.noise_error, 3))},
            {"meter_error", known(fit::rounded_to(value.meter_error, 3))},
            {"standard_error", known(fit::rounded_to(error, 3))},
            {"at_end_of_tolerance", value.is_at_end},
            {"why", value.why}};
  return json;
}

Json residual_json(const fit::Residual& residual) {
  const bool is_voltage = residual.quantity == as_run::Measured::Voltage;
  return {{"rail", residual.rail},
          {"quantity", is_voltage ? "voltage" : "current"},
          {"unit", is_voltage ? "V" : "A"},
          {"log", residual.log},
          {"readings", residual.readings},
          {"before", fit::rounded_to(residual.before, 3)},
          {"after", fit::rounded_to(residual.after, 3)},
          {"noise", fit::rounded_to(residual.noise, 3)},
          {"correlation", fit::rounded_by(residual.correlation, 1, 3)},
          {"widening", fit::rounded_to(residual.widening, 3)},
          {"meter_allows", residual.allowed}};
}

Json fit_json(const fit::Fit& fit) {
  Json values = Json::array();
  for (const fit::FittedValue& value : fit.values) values.push_back(value_json(value));
  Json residuals = Json::array();
  for (const fit::Residual& residual : fit.residuals) residuals.push_back(residual_json(residual));
  return {{"values", std::move(values)},
          {"residuals", std::move(residuals)},
          {"dropped_readings", fit.dropped},
          {"left_out", fit.left_out}};
}

}  // namespace

std::string fit_document(const fit::Fitted& fitted) {
  const Json document{{"rampart", version()},
                      {"profile", fitted.answer.path},
                      {"fit", fitted.fit ? fit_json(*fitted.fit) : Json(nullptr)},
                      {"findings", findings_json(fitted.answer)}};
  return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace rampart::cli
