#pragma once

#include <string>

#include "compiler/export/origin.h"
#include "compiler/table/table.h"

namespace rampart {

// The keys that say where a table comes from and what is set up before its first row: "rampart", "title", "origin",
// "setup", as the members of a JSON object without its braces, without a comma at the end. See docs/formats.md.
[[nodiscard]] std::string setup_members(const Table& table, const Origin& origin);

// The document that stands beside a table in another format: those members and the table's own SHA-256.
[[nodiscard]] std::string setup_document(const Table& table, const Origin& origin, const std::string& table_sha256);

// `text` as a JSON string, quotes included; bytes that are no UTF-8 become the replacement character.
[[nodiscard]] std::string json_text(const std::string& text);

}  // namespace rampart
