#include "runtime/cli/json/fit_json.h"

#include <nlohmann/json.hpp>

#include "lang/text/version.h"
#include "runtime/cli/json/json_parts.h"

namespace rampart::cli {
namespace {

using Json = nlohmann::ordered_json;

Json value_json(const fit::FittedValue& value) {
  Json json{{"name", value.name},
            {"unit", value.unit},
            {"design", value.design.nominal},
            {"design_low", value.design.low},
            {"design_high", value.design.high},
            {"determined", value.is_determined},
            {"estimate", value.is_determined ? Json(value.estimate) : Json(nullptr)},
            {"noise_error", value.is_determined ? Json(value.noise_error) : Json(nullptr)},
            {"meter_error", value.is_determined ? Json(value.meter_error) : Json(nullptr)},
            {"standard_error", value.is_determined ? Json(value.standard_error()) : Json(nullptr)},
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
          {"before", residual.before},
          {"after", residual.after},
          {"noise", residual.noise},
          {"correlation", residual.correlation},
          {"widening", residual.widening},
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
