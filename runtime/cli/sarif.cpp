#include "runtime/cli/sarif.h"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "lang/version.h"
#include "runtime/cli/catalogue.h"

namespace rampart::cli {
namespace {

using Json = nlohmann::ordered_json;

// RFC 3986: what may not stand in a path, and a colon that would pass for a scheme, is percent-encoded.
std::string uri_of(std::string_view path) {
  constexpr std::string_view kPlain = "-._~/!$&'()*+,;=@";
  constexpr std::string_view kDigits = "0123456789ABCDEF";
  std::string uri;
  for (const char c : path) {
    const auto byte = static_cast<unsigned char>(c);
    const bool is_letter = (byte >= 'a' && byte <= 'z') || (byte >= 'A' && byte <= 'Z');
    if (is_letter || (byte >= '0' && byte <= '9') || kPlain.find(c) != std::string_view::npos) {
      uri += c;
    } else {
      uri += {'%', kDigits[byte >> 4U], kDigits[byte & 15U]};
    }
  }
  return uri;
}

Json rule(const CatalogueEntry& entry) {
  return {{"id", entry.name},
          {"shortDescription", {{"text", entry.summary}}},
          {"fullDescription", {{"text", entry.why}, {"markdown", entry.why}}},
          {"help", {{"text", explain_text(entry)}}},
          {"defaultConfiguration", {{"level", severity_name(entry.severities.front())}}},
          {"properties", {{"tags", Json::array({family_name(entry.family)})}}}};
}

Json location(const SourceSet& sources, const Span& span) {
  const SourceFile& file = sources[span.file];
  const Position begin = file.position(span.begin);
  const Position end = file.position(span.end);
  return {{"physicalLocation",
           {{"artifactLocation", {{"uri", uri_of(file.name())}}},
            {"region",
             {{"startLine", begin.line},
              {"startColumn", begin.column},
              {"endLine", end.line},
              {"endColumn", end.column}}}}}};
}

Json result(const Compilation& compilation, const Finding& finding) {
  const std::vector<CatalogueEntry>& rules = catalogue();
  const auto rule = std::find_if(rules.begin(), rules.end(),
                                 [&finding](const CatalogueEntry& entry) { return entry.name == finding.name; }) -
                    rules.begin();
  std::string text = finding.message;
  if (!finding.hint.empty()) text += "; " + finding.hint;
  Json related = Json::array();
  for (const FindingNote& note : finding.notes) {
    Json item = location(compilation.sources, note.span);
    item["message"] = {{"text", note.message}};
    related.push_back(std::move(item));
  }
  Json json{{"ruleId", finding.name},
            {"ruleIndex", rule},
            {"level", severity_name(finding.severity)},
            {"message", {{"text", text}}},
            {"locations", Json::array({location(compilation.sources, finding.span)})},
            {"relatedLocations", std::move(related)}};
  if (finding.accepted) {
    json["suppressions"] = Json::array({{{"kind", "inSource"}, {"justification", *finding.accepted}}});
  }
  return json;
}

}  // namespace

std::string sarif_document(const Compilations& compilations) {
  Json rules = Json::array();
  for (const CatalogueEntry& entry : catalogue()) rules.push_back(rule(entry));
  Json results = Json::array();
  for (const auto& compilation : compilations) {
    for (const Finding& finding : compilation->findings.findings()) {
      results.push_back(result(*compilation, finding));
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
