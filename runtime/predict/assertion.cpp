#include "runtime/predict/assertion.h"

#include <algorithm>

#include "compiler/yaml/file_values.h"
#include "lang/findings/resolve.h"
#include "lang/findings/syntax.h"
#include "runtime/play/simulate.h"

namespace rampart {
namespace {

constexpr const char* kForm = "write LINE=TIME, as in `stop=2s`";

std::optional<LineId> find_interlock(std::string_view name, const Span& place, const Profile& profile,
                                     FindingSink& findings) {
  const auto line =
      std::find_if(profile.lines.begin(), profile.lines.end(), [&](const Line& known) { return known.name == name; });
  if (line == profile.lines.end()) {
    std::vector<std::string> names;
    for (const Line& known : profile.lines) {
      if (known.trigger == LineTrigger::SwitchOff) names.push_back(known.name);
    }
    report_unknown_name("interlock", name, place, names, findings);
    return std::nullopt;
  }
  if (line->is_output) {
    findings.report(finding::AssertsOutput, place, line->name).note(finding::DeclaredHere, line->span);
    return std::nullopt;
  }
  if (line->trigger != LineTrigger::SwitchOff) {
    findings.report(finding::AssertsNothing, place, line->name)
        .note(finding::DeclaredHere, line->span)
        .hint("an interlock is declared with `input off` and the rails that it switches off");
    return std::nullopt;
  }
  return LineId{static_cast<std::uint32_t>(line - profile.lines.begin())};
}

}  // namespace

std::optional<Assertion> read_assertion(const SourceSet& sources, FileId file, const Profile& profile,
                                        FindingSink& findings) {
  const std::string_view text = sources[file].text();
  const Span whole{file, 0, static_cast<std::uint32_t>(text.size())};
  const std::size_t equals = text.find('=');
  const std::optional<Quantity> time =
      equals == std::string_view::npos ? std::nullopt : parse_quantity(text.substr(equals + 1));
  if (!time || time->dimension != dimension::kTime || time->value.overflowed() || time->value < Rational(0)) {
    findings.report(finding::BadAssertion, whole, text).hint(kForm);
    return std::nullopt;
  }
  const Span name_span{file, 0, static_cast<std::uint32_t>(equals)};
  const std::optional<LineId> line = find_interlock(text.substr(0, equals), name_span, profile, findings);
  const std::optional<Nanoseconds> at = to_nanoseconds(time->value);
  if (!at) findings.report(finding::BadAssertion, whole, text).hint(kForm);
  if (!line || !at) return std::nullopt;
  return Assertion{*line, Instant{*at, 0}};
}

}  // namespace rampart
