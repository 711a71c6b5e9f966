#include "compiler/export/template_fields.h"

#include <fmt/args.h>
#include <fmt/format.h>

#include <locale>

#include "lang/overloaded.h"

namespace rampart::export_detail {

// Written as nothing where there is none.
template <class Value>
struct Maybe {
  std::optional<Value> value;
};

}  // namespace rampart::export_detail

template <class Value>
struct fmt::formatter<rampart::export_detail::Maybe<Value>> : fmt::formatter<Value> {
  template <class Context>
  auto format(const rampart::export_detail::Maybe<Value>& maybe, Context& context) const {
    return maybe.value ? fmt::formatter<Value>::format(*maybe.value, context) : context.out();
  }
};

namespace rampart {
namespace {

using export_detail::Maybe;
using Number = std::optional<double>;
using Truth = std::optional<bool>;

class DecimalComma : public std::numpunct<char> {
 protected:
  char do_decimal_point() const override { return ','; }
  char do_thousands_sep() const override { return '.'; }
  std::string do_grouping() const override { return ""; }
};

const std::locale& comma_locale() {
  static const std::locale kLocale(std::locale::classic(), new DecimalComma);
  return kLocale;
}

TemplateValues fields_of_setup() {
  return {{"channel", std::string("left.ch1")}, {"rail", std::string("logic")}, {"sense", std::string("local")},
          {"overvoltage_V", Number(3.8)},       {"fuse_s", Number(0.02)},       {"fuse_A", Number(1.0)},
          {"overpower_W", Number(2.5)},         {"overpower_s", Number(0.1)},   {"linked", std::string("left.ch2")}};
}

TemplateValues fields_of_row() {
  return {{"number", std::int64_t{1}},
          {"segment", std::string("1")},
          {"time_s", Number(0.01)},
          {"time_ms", Number(10.0)},
          {"wait_s", Number(0.01)},
          {"wait_ms", Number(10.0)},
          {"channel", std::string("left.ch1")},
          {"rail", std::string("logic")},
          {"voltage_V", Number(3.3)},
          {"current_A", Number(1.0)},
          {"output", Truth(true)}};
}

TemplateValues fields_of_line() {
  return {{"number", std::int64_t{1}},         {"segment", std::string("1")}, {"time_s", Number(0.01)},
          {"time_ms", Number(10.0)},           {"wait_s", Number(0.01)},      {"wait_ms", Number(10.0)},
          {"line", std::string("left.line1")}, {"name", std::string("lamp")}, {"level", Truth(true)}};
}

}  // namespace

const TemplateValues& sample_fields(TemplatePart part) {
  static const TemplateValues kDocument{
      {"title", std::string("A title")}, {"profile", std::string("p.ramp")}, {"version", std::string("0.1.0")}};
  static const TemplateValues kSetup = fields_of_setup();
  static const TemplateValues kSegment{{"segment", std::string("1")}};
  static const TemplateValues kRow = fields_of_row();
  static const TemplateValues kLine = fields_of_line();
  static const TemplateValues kWait{{"segment", std::string("1")},
                                    {"duration_s", Number(1.0)},
                                    {"kind", std::string("operator")},
                                    {"what", std::string("Connect J3")},
                                    {"within_s", Number(5.0)}};
  switch (part) {
    case TemplatePart::Header:
    case TemplatePart::Footer:
      return kDocument;
    case TemplatePart::Setup:
      return kSetup;
    case TemplatePart::Segment:
      return kSegment;
    case TemplatePart::Row:
      return kRow;
    case TemplatePart::Line:
      return kLine;
    case TemplatePart::Wait:
      return kWait;
  }
  return kDocument;
}

std::string fill_in(const std::string& format, const TemplateValues& fields) {
  fmt::dynamic_format_arg_store<fmt::format_context> store;
  for (const TemplateValue& field : fields) {
    std::visit(Overloaded{[&](std::int64_t value) { store.push_back(fmt::arg(field.name.c_str(), value)); },
                          [&](const std::string& value) { store.push_back(fmt::arg(field.name.c_str(), value)); },
                          [&](const std::optional<double>& value) {
                            store.push_back(fmt::arg(field.name.c_str(), Maybe<double>{value}));
                          },
                          [&](const std::optional<bool>& value) {
                            store.push_back(fmt::arg(field.name.c_str(), Maybe<bool>{value}));
                          }},
               field.value);
  }
  return fmt::vformat(comma_locale(), format, store);
}

}  // namespace rampart
