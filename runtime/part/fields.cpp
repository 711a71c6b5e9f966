#include "runtime/part/fields.h"

#include <charconv>

#include "lang/text/character.h"

namespace rampart {
namespace {

constexpr char kEnd = ';';
constexpr char kEscape = '%';

}  // namespace

void FieldWriter::add(std::string_view field) {
  text_ += field;
  text_ += kEnd;
}

void FieldWriter::number(double value) {
  char digits[32];
  const std::to_chars_result end = std::to_chars(std::begin(digits), std::end(digits), value);
  add({digits, end.ptr});
}

void FieldWriter::whole(std::int64_t value) {
  add(std::to_string(value));
}

void FieldWriter::words(std::string_view any) {
  std::string field;
  for (const char c : any) {
    if (c == kEnd || c == kEscape) field += kEscape;
    field += c == kEnd ? ':' : c;
  }
  add(field);
}

std::string_view FieldReader::next() {
  const std::size_t end = rest_.find(kEnd);
  if (end == std::string_view::npos) {
    is_right_ = false;
    rest_ = {};
    return {};
  }
  const std::string_view field = rest_.substr(0, end);
  rest_.remove_prefix(end + 1);
  return field;
}

double FieldReader::number() {
  const std::string_view field = next();
  double value = 0;
  const auto [end, error] = std::from_chars(field.data(), field.data() + field.size(), value);
  is_right_ = is_right_ && error == std::errc() && end == field.data() + field.size();
  return value;
}

std::int64_t FieldReader::whole() {
  const std::string_view field = next();
  std::int64_t value = 0;
  const auto [end, error] = std::from_chars(field.data(), field.data() + field.size(), value);
  is_right_ = is_right_ && error == std::errc() && end == field.data() + field.size();
  return value;
}

std::size_t FieldReader::count() {
  const std::int64_t count = whole();
  if (count >= 0 && static_cast<std::size_t>(count) <= rest_.size()) return static_cast<std::size_t>(count);
  is_right_ = false;
  return 0;
}

std::string FieldReader::words() {
  const std::string_view field = next();
  std::string text;
  for (std::size_t i = 0; i < field.size(); ++i) {
    const bool is_escaped = field[i] == kEscape && i + 1 < field.size();
    if (is_escaped) ++i;
    text += is_escaped && field[i] == ':' ? kEnd : field[i];
  }
  is_right_ = is_right_ && visible_text(text) == text;
  return text;
}

}  // namespace rampart
