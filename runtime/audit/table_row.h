#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "lang/values/rational.h"

namespace rampart::audit {

// Where a row stands: its text is only kept if something is found in it.
struct RowPlace {
  std::uint32_t line = 0;
  std::string text;
};

// One row of a table as it is written: numbers exact, nothing looked up.
struct TableRow {
  std::string segment;  // empty where the table has no such column
  Rational time;        // s
  std::string channel;
  // Empty in the row of a trigger line, and in `safe` where something stays as it is.
  std::optional<Rational> voltage;  // V
  std::optional<Rational> current;  // A
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

// Numbers as read_number() reads them. Those of a table come again and again, so some are kept with their texts.
class KnownNumbers {
 public:
  KnownNumbers() : entries_(kEntries) {}
  [[nodiscard]] const std::optional<Rational>& read(std::string_view text);

 private:
  static constexpr std::size_t kEntries = 1024;
  struct Entry {
    std::string text;
    std::optional<Rational> number;
  };
  std::vector<Entry> entries_;  // by a hash of the text, the last one of each
};

// Empty if the fields are not the header of a table.
[[nodiscard]] std::optional<Columns> read_header(const std::vector<std::string_view>& fields);

// Adds the row of each channel that the record speaks of, or returns the first field of it that is wrong. `fields` has
// as many as the columns.
[[nodiscard]] std::optional<FieldMistake> read_rows(const std::vector<std::string_view>& fields, const Columns& columns,
                                                    KnownNumbers& known, std::vector<TableRow>& rows);

// A number as a table writes it: decimal, with a sign where it is negative, at most 10^12. Empty if it is none.
[[nodiscard]] std::optional<Rational> read_number(std::string_view text);

// A number of JSON, which may have an exponent; exact. Empty if it is larger or finer than any table needs.
[[nodiscard]] std::optional<Rational> read_json_number(const std::string& text);

}  // namespace rampart::audit
