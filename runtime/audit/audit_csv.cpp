#include "lang/findings/tables.h"
#include "runtime/audit/auditor.h"
#include "runtime/support/csv_reader.h"

namespace rampart::audit {
namespace {

bool read_first_line(CsvReader& reader, Auditor& auditor, Columns& columns, KeptPlace& header) {
  header.line = 1;
  const bool is_there = reader.next_line();
  if (is_there) header.text = reader.text();
  auditor.at(header);
  if (!is_there) {
    auditor.report(finding::TableEmpty);
    return false;
  }
  const std::optional<Columns> read = read_header(reader.split());
  if (!read) {
    auditor.report(finding::TableHeader);
    return false;
  }
  columns = *read;
  return true;
}

// Takes the records of a table one by one.
class RecordTaker {
 public:
  RecordTaker(const Columns& columns, Auditor& auditor) : columns_(columns), auditor_(auditor) {}

  void take(CsvReader& reader) {
    if (reader.is_plain() && read_plain_row(reader.text(), columns_, plain_row_)) {
      auditor_.take(plain_row_);
    } else if (reader.text().empty()) {
      auditor_.report_row("", finding::TableBlankLine);
    } else {
      take_fields(reader);
    }
  }

 private:
  void take_fields(CsvReader& reader) {
    const std::vector<std::string_view>& fields = reader.split();
    if (!reader.mistake().empty()) {
      auditor_.report(finding::TableRowBroken, reader.mistake());
      return;
    }
    if (fields.size() != columns_.count()) {
      auditor_.report_row("", finding::TableFields, static_cast<std::int64_t>(fields.size()),
                          static_cast<std::int64_t>(columns_.count()));
      return;
    }
    rows_.clear();
    if (const std::optional<FieldMistake> mistake = read_rows(fields, columns_, rows_)) {
      auditor_.report_row(mistake->column, finding::TableField, mistake->text, mistake->column, mistake->wanted);
      return;
    }
    for (const TableRow& row : rows_) auditor_.take(row);
  }

  const Columns& columns_;
  Auditor& auditor_;
  TableRow plain_row_;
  std::vector<TableRow> rows_;
};

}  // namespace

AuditResult audit_csv(std::FILE* stream, const std::string& name, const Bench& bench, const Record* beside,
                      SourceSet& sources, FindingSink& findings) {
  CsvReader reader(stream);
  Auditor auditor(name, bench, sources, findings);
  if (beside != nullptr) auditor.hold_to_setup(*beside);
  Columns columns;
  KeptPlace header;
  if (read_first_line(reader, auditor, columns, header)) {
    RecordTaker taker(columns, auditor);
    while (reader.next_line()) {
      // A line is only shown with its number where it has text.
      auditor.at({reader.number(), reader.text().empty() ? " " : reader.text()});
      auditor.count_row();
      taker.take(reader);
    }
    auditor.at(header);
    auditor.end_table();
  }
  auditor.report_alike();
  auditor.result().read_to_end = !reader.failed();
  return auditor.result();
}

AuditResult audit_table(std::FILE* stream, const std::string& name, const Bench& bench, const Record* beside,
                        SourceSet& sources, FindingSink& findings) {
  int first = std::getc(stream);
  // A byte order mark, as a spreadsheet may put it before the text. Half of one is no header, with or without its end.
  constexpr int kByteOrderMark[] = {0xEF, 0xBB, 0xBF};
  for (const int byte : kByteOrderMark) {
    if (first != byte) break;
    first = std::getc(stream);
  }
  if (first != EOF) std::ungetc(first, stream);
  const auto audit = first == '{' ? audit_json : audit_csv;
  return audit(stream, name, bench, beside, sources, findings);
}

}  // namespace rampart::audit
