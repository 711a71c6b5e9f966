#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/export/origin.h"
#include "compiler/export/text_sink.h"
#include "compiler/table/table.h"
#include "lang/findings/finding.h"

namespace rampart {

// The parts of a template, each a text in which `{field:format}` stands for a value.
enum class TemplatePart : std::uint8_t { Header, Setup, Role, Segment, Row, Line, Mark, Measure, Wait, Footer };
inline constexpr std::size_t kTemplateParts = 10;

// A text of the user's that a table is poured into.
struct TableTemplate {
  FileId file{};
  std::optional<std::string> parts[kTemplateParts];
  std::size_t begins[kTemplateParts] = {};  // of the text of each part in the file
  [[nodiscard]] const std::optional<std::string>& operator[](TemplatePart part) const {
    return parts[static_cast<std::size_t>(part)];
  }
};

// Widths and precisions of a format are no larger.
inline constexpr int kMaxTemplateNumber = 1000;

// Reads a template: parts begin with a line such as `[row]`; what stands before the first one is a remark.
// docs/formats.md lists parts and fields. Findings: bad-template, with the place of the field. Empty where one is an
// error.
[[nodiscard]] std::optional<TableTemplate> read_template(const SourceSet& sources, FileId file, FindingSink& findings);

// What the table does that the template has no part for; empty if there is nothing.
[[nodiscard]] std::string missing_part(const TableTemplate& text, const Table& run, const Table* safe);

// Tries every value of the table in the formats of the template. Finding: bad-template, at the first field that would
// have to round one.
void check_exact(const TableTemplate& text, const Table& run, const Table* safe, FindingSink& findings);

// Writes the table through a template that was read and tried without findings. Memory does not grow with the table.
void write_template(const TableTemplate& text, const Table& run, const Table* safe, const Origin& origin,
                    TextSink& sink);

}  // namespace rampart
