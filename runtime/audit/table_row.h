#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "lang/rational.h"

namespace rampart::audit {

// One row of a table as it is written: numbers exact, nothing looked up.
struct TableRow {
  std::string segment;  // empty where the table has no such column
  Rational time;        // s
  std::string channel;
  // Empty in the row of a trigger line, and in `safe` where something stays as it is.
  std::optional<Rational> voltage;  // V
  std::optional<Rational> current;  // A
  std::optional<bool> output;
};

// A field that cannot be what its column says.
struct FieldMistake {
  std::string column;
  std::string text;
  std::string wanted;
};

// The columns of a table, as its first line names them.
struct Columns {
  bool segment = false;
  [[nodiscard]] std::size_t count() const { return segment ? 6 : 5; }
};

// Empty if the fields are not the header of a table.
[[nodiscard]] std::optional<Columns> read_header(const std::vector<std::string>& fields);

// The row, or the first field of it that is wrong. `fields` has as many as the columns.
[[nodiscard]] std::optional<FieldMistake> read_row(const std::vector<std::string>& fields, const Columns& columns,
                                                   TableRow& row);

}  // namespace rampart::audit
