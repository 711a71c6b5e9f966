#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "runtime/audit/table_number.h"

namespace rampart::audit {

// Where a row stands, and its text while it is there.
struct RowPlace {
  std::uint32_t line = 0;
  std::string_view text;
};

// The same for later.
struct KeptPlace {
  std::uint32_t line = 0;
  std::string text;

  KeptPlace& operator=(const RowPlace& place) {
    line = place.line;
    text = place.text;
    return *this;
  }
  operator RowPlace() const { return {line, text}; }  // NOLINT: it is one
};

// One row of a table as it is written: numbers exact, nothing looked up. Its names belong to whoever reads the table.
struct TableRow {
  std::string_view segment;  // empty where the table has no such column
  TableNumber time;          // s
  std::string_view channel;
  // Empty in the row of a trigger line, and in `safe` where something stays as it is.
  std::optional<TableNumber> voltage;  // V
  std::optional<TableNumber> current;  // A
  std::optional<bool> output;
  bool of_instant = false;  // of a form that shows all channels at the instants of each: it may be what is held there
};

// A field that cannot be what its column says.
struct FieldMistake {
  std::string column;
  std::string text;
  std::string wanted;
};

// The columns of a table, as its first line names them: a row for each change of a channel, or one an instant with the
// columns of all channels side by side.
struct Columns {
  bool segment = false;
  bool instants = false;
  std::vector<std::string> channels;  // with `instants`
  std::vector<std::string> lines;     // likewise
  [[nodiscard]] std::size_t count() const {
    return (segment ? 1 : 0) + (instants ? 1 + 3 * channels.size() + lines.size() : 5);
  }
};

// Empty if the fields are not the header of a table.
[[nodiscard]] std::optional<Columns> read_header(const std::vector<std::string_view>& fields);

// Reads a line without quotes that is the row of one channel, complete and with short numbers, as nearly all lines of a
// table of changes are. False for all others; `row` means nothing then.
[[nodiscard]] bool read_plain_row(std::string_view line, const Columns& columns, TableRow& row);

// Adds the row of each channel that the record speaks of, or returns the first field of it that is wrong. `fields` has
// as many as the columns. The rows refer to the names in both.
[[nodiscard]] std::optional<FieldMistake> read_rows(const std::vector<std::string_view>& fields, const Columns& columns,
                                                    std::vector<TableRow>& rows);

// A number of JSON, which may have an exponent; exact. Empty if it is larger or finer than any table needs.
[[nodiscard]] std::optional<TableNumber> read_json_number(const std::string& text);

}  // namespace rampart::audit
