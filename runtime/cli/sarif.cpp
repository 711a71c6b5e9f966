#include "runtime/cli/sarif.h"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "lang/version.h"

namespace rampart::cli {
namespace {

using Json = nlohmann::ordered_json;

// Names in the order of the registry, each once.
std::vector<std::string_view> rule_names() {
  std::vector<std::string_view> names;
  for (const Wording& wording : finding_registry()) {
    if (std::find(names.begin(), names.end(), wording.name) == names.end()) names.push_back(wording.name);
  }
  return names;
}

Json location(const SourceSet& sources, const Span& span) {
  const SourceFile& file = sources[span.file];
  const Position begin = file.position(span.begin);
  const Position end = file.position(span.end);
  return {{"physicalLocation",
           {{"artifactLocation", {{"uri", file.name()}}},
            {"region",
             {{"startLine", begin.line},
              {"startColumn", begin.column},
              {"endLine", end.line},
              {"endColumn", end.column}}}}}};
}

Json result(const Compilation& compilation, const Finding& finding, const std::vector<std::string_view>& names) {
  const auto rule = std::find(names.begin(), names.end(), finding.name) - names.begin();
  std::string text = finding.message;
  if (!finding.hint.empty()) text += "; " + finding.hint;
  Json related = Json::array();
  for (const FindingNote& note : finding.notes) {
    Json item = location(compilation.sources, note.span);
    item["message"] = {{"text", note.message}};
    related.push_back(std::move(item));
  }
  return {{"ruleId", finding.name},
          {"ruleIndex", rule},
          {"level", severity_name(finding.severity)},
          {"message", {{"text", text}}},
          {"locations", Json::array({location(compilation.sources, finding.span)})},
          {"relatedLocations", std::move(related)}};
}

}  // namespace

std::string sarif_document(const Compilations& compilations) {
  const std::vector<std::string_view> names = rule_names();
  Json rules = Json::array();
  for (const std::string_view name : names) rules.push_back({{"id", name}});
  Json results = Json::array();
  for (const auto& compilation : compilations) {
    for (const Finding& finding : compilation->findings.findings()) {
      results.push_back(result(*compilation, finding, names));
    }
  }
  const Json document{
      {"$schema", "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"},
      {"version", "2.1.0"},
      {"runs", Json::array({{{"tool", {{"driver", {{"name", "rampart"}, {"version", version()}, {"rules", rules}}}}},
                             {"columnKind", "unicodeCodePoints"},
                             {"results", std::move(results)}}})}};
  return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace rampart::cli
