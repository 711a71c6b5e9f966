#include "compiler/export/number_format.h"

#include <cctype>

#include "compiler/export/decimal.h"
#include "compiler/export/template.h"

namespace rampart {
namespace {

constexpr std::string_view kAligns = "<>^";

bool take(std::string_view& text, std::string_view any_of, char& taken) {
  if (text.empty() || any_of.find(text.front()) == std::string_view::npos) return false;
  taken = text.front();
  text.remove_prefix(1);
  return true;
}

// False if it is larger than any number of a format may be.
bool take_number(std::string_view& text, int& number) {
  number = 0;
  while (!text.empty() && std::isdigit(static_cast<unsigned char>(text.front())) != 0) {
    number = 10 * number + (text.front() - '0');
    if (number > kMaxTemplateNumber) return false;
    text.remove_prefix(1);
  }
  return true;
}

}  // namespace

std::optional<NumberFormat> NumberFormat::parse(std::string_view format) {
  NumberFormat result;
  char taken = ' ';
  if (format.size() > 1 && kAligns.find(format[1]) != std::string_view::npos) {
    result.fill_ = format[0];
    format.remove_prefix(1);
  }
  const bool has_align = take(format, kAligns, result.align_);
  static_cast<void>(take(format, "+- ", result.sign_));
  // As in the fmt library an alignment rules out zeros between sign and digits.
  if (take(format, "0", taken)) result.zeros_ = !has_align;
  if (!take_number(format, result.width_)) return std::nullopt;
  if (take(format, ".", taken)) {
    if (format.empty() || std::isdigit(static_cast<unsigned char>(format.front())) == 0) return std::nullopt;
    if (!take_number(format, result.precision_)) return std::nullopt;
  }
  result.comma_ = take(format, "L", taken);
  static_cast<void>(take(format, "fF", taken));
  return format.empty() ? std::optional<NumberFormat>(result) : std::nullopt;
}

std::optional<std::string> NumberFormat::text(const Rational& value) const {
  std::optional<std::string> digits = exact_decimal(abs(value));
  if (!digits) return std::nullopt;
  const std::size_t point = digits->find('.');
  const std::size_t decimals = point == std::string::npos ? 0 : digits->size() - point - 1;
  if (has_precision()) {
    const auto wanted = static_cast<std::size_t>(precision_);
    if (decimals > wanted) return std::nullopt;
    if (point == std::string::npos && wanted > 0) *digits += '.';
    digits->append(wanted - decimals, '0');
  }
  if (comma_ && digits->find('.') != std::string::npos) (*digits)[digits->find('.')] = ',';
  const std::string_view sign = value.sign() < 0 ? "-" : sign_ == '+' ? "+" : sign_ == ' ' ? " " : "";
  return padded(sign, *digits);
}

std::string NumberFormat::padded(std::string_view sign, const std::string& digits) const {
  std::string text(sign);
  const std::size_t size = sign.size() + digits.size();
  const auto width = static_cast<std::size_t>(width_);
  const std::size_t missing = width > size ? width - size : 0;
  if (zeros_) return text.append(missing, '0') + digits;
  const std::size_t before = align_ == '<' ? 0 : align_ == '^' ? missing / 2 : missing;
  return std::string(before, fill_) + text + digits + std::string(missing - before, fill_);
}

}  // namespace rampart
