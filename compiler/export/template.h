#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compiler/export/origin.h"
#include "compiler/export/text_sink.h"
#include "compiler/table.h"
#include "lang/finding.h"

namespace rampart {

// The parts of a template, each a text in which `{field:format}` stands for a value.
enum class TemplatePart : std::uint8_t { Header, Setup, Segment, Row, Line, Wait, Footer };
inline constexpr std::size_t kTemplateParts = 7;

// A text of the user's that a table is poured into.
struct TableTemplate {
  std::optional<std::string> parts[kTemplateParts];
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

// Writes the table through a template that was read without findings. Memory does not grow with the table.
void write_template(const TableTemplate& text, const Table& run, const Table* safe, const Origin& origin,
                    TextSink& sink);

}  // namespace rampart
