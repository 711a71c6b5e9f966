#include "runtime/bench_run/row_messages.h"

namespace rampart::bench_run {
namespace {

using link::MessageKind;

template <class Value>
std::optional<Value> if_new(const std::optional<Value>& value, const std::optional<Value>& last) {
  return value == last ? std::nullopt : value;
}

}  // namespace

TableRow RowWriter::news(const TableRow& row) const {
  const auto found = last_.find(row.name);
  if (found == last_.end()) return row;
  const TableRow& last = found->second;
  return {row.name, if_new(row.voltage, last.voltage), if_new(row.current, last.current),
          if_new(row.output, last.output)};
}

std::optional<std::vector<std::string>> RowWriter::messages(const PlanChannel& channel, const link::SupplyLink& link,
                                                            const TableRow& row) {
  const TableRow now = news(row);
  std::vector<std::string> texts;
  bool is_right = true;
  const auto add = [&](MessageKind kind, const Rational& value) {
    std::optional<std::string> text = link.messages.filled(kind, {channel.subject, value});
    is_right = is_right && text.has_value();
    if (text) texts.push_back(*std::move(text));
  };
  if (now.output == false) add(MessageKind::OutputOff, {});
  if (now.current) add(MessageKind::Current, *now.current);
  if (now.voltage) add(MessageKind::Voltage, *now.voltage);
  if (now.output == true) add(MessageKind::OutputOn, {});
  if (!is_right) return std::nullopt;
  TableRow& last = last_[row.name];
  last.name = row.name;
  if (row.voltage) last.voltage = row.voltage;
  if (row.current) last.current = row.current;
  if (row.output) last.output = row.output;
  return texts;
}

std::optional<std::vector<std::string>> RowWriter::messages(const PlanLine& line, const link::SupplyLink& link,
                                                            const TableRow& row) {
  if (!row.output) return std::vector<std::string>{};
  std::optional<std::string> text =
      link.messages.filled(*row.output ? MessageKind::LineHigh : MessageKind::LineLow, {line.subject, {}});
  if (!text) return std::nullopt;
  return std::vector<std::string>{*std::move(text)};
}

}  // namespace rampart::bench_run
