#include "runtime/cli/json/sarif.h"

#include <algorithm>
#include <cctype>
#include <cstdlib>
#include <map>
#include <nlohmann/json.hpp>

#include "compiler/export/sha256.h"
#include "lang/files/file_uri.h"
#include "lang/text/version.h"
#include "runtime/cli/shared/catalogue.h"

namespace rampart::cli {
namespace {

using Json = nlohmann::ordered_json;

// "above-ceiling": AboveCeiling.
std::string rule_name(std::string_view id) {
  std::string name;
  bool begins_word = true;
  for (const char c : id) {
    if (c != '-') name += begins_word ? static_cast<char>(std::toupper(static_cast<unsigned char>(c))) : c;
    begins_word = c == '-';
  }
  return name;
}

Json rule(const CatalogueEntry& entry, const std::string& docs) {
  Json json{{"id", entry.name},
            {"name", rule_name(entry.name)},
            {"shortDescription", {{"text", entry.summary}}},
            {"fullDescription", {{"text", entry.why}, {"markdown", entry.why}}},
            {"help", {{"text", explain_text(entry)}}},
            {"defaultConfiguration", {{"level", severity_name(entry.severities.front())}}},
            {"properties", {{"tags", Json::array({family_name(entry.family)})}}}};
  if (!docs.empty()) json["helpUri"] = docs + "explain/" + std::string(entry.name) + ".md";
  return json;
}

Json location(const SourceSet& sources, const Span& span) {
  const SourceFile& file = sources[span.file];
  const Position begin = file.position(span.begin);
  const Position end = file.position(span.end);
  return {{"physicalLocation",
           {{"artifactLocation", {{"uri", file_uri(file.name())}}},
            {"region",
             {{"startLine", begin.line},
              {"startColumn", begin.column},
              {"endLine", end.line},
              {"endColumn", end.column}}}}}};
}

// What stays the same while text above a finding comes and goes: its rule, its file and its lines, and how many times
// this came before.
class Fingerprints {
 public:
  std::string next(const SourceSet& sources, const Finding& finding) {
    const SourceFile& file = sources[finding.span.file];
    const Position begin = file.position(finding.span.begin);
    const Position end = file.position(finding.span.end);
    std::string text = std::string(finding.name) + "\n" + file_uri(file.name());
    for (std::uint32_t line = begin.line; line <= end.line; ++line) text += "\n" + trimmed(file.line(line));
    return sha256_of(text) + ":" + std::to_string(++times_[text]);
  }

 private:
  static std::string trimmed(std::string_view line) {
    constexpr std::string_view kBlank = " \t\r";
    const std::size_t first = line.find_first_not_of(kBlank);
    if (first == std::string_view::npos) return {};
    return std::string(line.substr(first, line.find_last_not_of(kBlank) - first + 1));
  }

  std::map<std::string, std::int64_t> times_;
};

Json result(const Answer& answer, const Finding& finding, Fingerprints& fingerprints) {
  const std::vector<CatalogueEntry>& rules = catalogue();
  const auto rule = std::find_if(rules.begin(), rules.end(),
                                 [&finding](const CatalogueEntry& entry) { return entry.name == finding.name; }) -
                    rules.begin();
  std::string text = finding.message;
  if (!finding.hint.empty()) text += "; " + finding.hint;
  Json related = Json::array();
  for (const FindingNote& note : finding.notes) {
    Json item{{"id", related.size() + 1}};
    item.update(location(answer.findings.texts(), note.span));
    item["message"] = {{"text", note.message}};
    related.push_back(std::move(item));
  }
  Json json{{"ruleId", finding.name},
            {"ruleIndex", rule},
            {"level", severity_name(finding.severity)},
            {"message", {{"text", text}}},
            {"locations", Json::array({location(answer.findings.texts(), finding.span)})},
            {"partialFingerprints", {{"ruleFileAndText/v1", fingerprints.next(answer.findings.texts(), finding)}}},
            {"relatedLocations", std::move(related)}};
  if (finding.accepted) {
    json["suppressions"] = Json::array({{{"kind", "inSource"}, {"justification", *finding.accepted}}});
  }
  return json;
}

// Where the pages of docs/ are on this site's network, as RAMPART_DOCS_URL says; with a slash at its end. Empty where
// it says nothing, or no address that a browser opens.
std::string docs_address() {
  const char* const given = std::getenv("RAMPART_DOCS_URL");
  std::string address = given != nullptr ? given : "";
  const bool is_address =
      address.starts_with("https://") || address.starts_with("http://") || address.starts_with("file:///");
  if (!is_address || address.find_first_of(" \t\r\n\"<>\\^`{|}") != std::string::npos) return {};
  if (!address.ends_with('/')) address += '/';
  return address;
}

}  // namespace

std::string sarif_document(const Answers& answers) {
  const std::string docs = docs_address();
  Json rules = Json::array();
  for (const CatalogueEntry& entry : catalogue()) rules.push_back(rule(entry, docs));
  Json results = Json::array();
  Fingerprints fingerprints;
  for (const Answer& answer : answers) {
    for (const Finding& finding : answer.findings.findings()) {
      results.push_back(result(answer, finding, fingerprints));
    }
  }
  Json driver{{"name", "rampart"}, {"version", version()}, {"semanticVersion", version()}};
  if (!docs.empty()) driver["informationUri"] = docs;
  driver["rules"] = std::move(rules);
  const Json document{
      {"$schema", "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"},
      {"version", "2.1.0"},
      {"runs", Json::array({{{"tool", {{"driver", std::move(driver)}}},
                             {"columnKind", "unicodeCodePoints"},
                             {"results", std::move(results)}}})}};
  return document.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace rampart::cli
