#include "compiler/export/template_fields.h"

#include <fmt/args.h>
#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <string_view>
#include <utility>

#include "compiler/export/number_format.h"
#include "compiler/export/quoted.h"
#include "compiler/export/setup_json.h"
#include "lang/text/overloaded.h"

namespace rampart::export_detail {

// Written as nothing where there is none.
struct Truth {
  std::optional<bool> value;
};
struct Number {
  std::optional<Rational> value;
};
struct Words {
  std::string text;
};

}  // namespace rampart::export_detail

template <>
struct fmt::formatter<rampart::export_detail::Truth> : fmt::formatter<bool> {
  template <class Context>
  auto format(const rampart::export_detail::Truth& truth, Context& context) const {
    return truth.value ? fmt::formatter<bool>::format(*truth.value, context) : context.out();
  }
};

template <>
struct fmt::formatter<rampart::export_detail::Number> {
  constexpr auto parse(fmt::format_parse_context& context) {
    const char* at = context.begin();
    while (at != context.end() && *at != '}') ++at;
    text_ = {context.begin(), static_cast<std::size_t>(at - context.begin())};
    return at;
  }
  template <class Context>
  auto format(const rampart::export_detail::Number& number, Context& context) const {
    const std::optional<rampart::NumberFormat> format = rampart::NumberFormat::parse(text_);
    if (!format) throw fmt::format_error("a number takes [[fill]align][sign][0][width][.precision][L][f]");
    if (!number.value) return context.out();
    const std::optional<std::string> text = format->text(*number.value);
    if (!text) throw rampart::InexactNumber{std::string(text_), *number.value};
    return std::copy(text->begin(), text->end(), context.out());
  }

 private:
  std::string_view text_;
};

template <>
struct fmt::formatter<rampart::export_detail::Words> : fmt::formatter<std::string_view> {
  constexpr auto parse(fmt::format_parse_context& context) {
    const char* const at = context.begin();
    const bool is_one = context.end() - at > 1 && at[1] == '}';
    if (is_one && (*at == 'q' || *at == 'j')) {
      quoting_ = *at;
      return at + 1;
    }
    return fmt::formatter<std::string_view>::parse(context);
  }
  template <class Context>
  auto format(const rampart::export_detail::Words& words, Context& context) const {
    if (quoting_ == ' ') return fmt::formatter<std::string_view>::format(words.text, context);
    const std::string text = quoting_ == 'q' ? rampart::quoted_field(words.text) : rampart::json_text(words.text);
    return std::copy(text.begin(), text.end(), context.out());
  }

 private:
  char quoting_ = ' ';
};

namespace rampart {
namespace {

using Number = std::optional<Rational>;
using Flag = std::optional<bool>;

const Number kOne = Rational(1);

TemplateValues fields_of_setup() {
  return {{"channel", std::string("left.ch1")},
          {"rail", std::string("logic")},
          {"sense", std::string("local")},
          {"overvoltage_V", kOne},
          {"fuse_s", kOne},
          {"fuse_A", kOne},
          {"overpower_W", kOne},
          {"overpower_s", kOne},
          {"linked", std::string("left.ch2")},
          {"coupled", std::string("left.ch3")},
          {"interpolation", std::string("hold")}};
}

TemplateValues fields_of_role() {
  return {{"line", std::string("left.line1")},
          {"name", std::string("lamp")},
          {"direction", std::string("output")},
          {"role", std::string("high when tripped")},
          {"rails", std::string("logic radio")}};
}

// What is done at an instant, with its own fields.
TemplateValues fields_at_instant(TemplateValues own) {
  TemplateValues fields{{"number", std::int64_t{1}},
                        {"segment", std::string("1")},
                        {"time_s", kOne},
                        {"time_ms", kOne},
                        {"wait_s", kOne},
                        {"wait_ms", kOne}};
  std::move(own.begin(), own.end(), std::back_inserter(fields));
  return fields;
}

}  // namespace

const TemplateValues& sample_fields(TemplatePart part) {
  static const TemplateValues kDocument{
      {"title", std::string("A title")}, {"profile", std::string("p.ramp")}, {"version", std::string("0.1.0")}};
  static const TemplateValues kSetup = fields_of_setup();
  static const TemplateValues kRole = fields_of_role();
  static const TemplateValues kSegment{{"segment", std::string("1")}};
  static const TemplateValues kRow = fields_at_instant({{"channel", std::string("left.ch1")},
                                                        {"rail", std::string("logic")},
                                                        {"voltage_V", kOne},
                                                        {"current_A", kOne},
                                                        {"output", Flag(true)},
                                                        {"interpolation", std::string("hold")}});
  static const TemplateValues kLine =
      fields_at_instant({{"line", std::string("left.line1")}, {"name", std::string("lamp")}, {"level", Flag(true)}});
  static const TemplateValues kMark = fields_at_instant({{"name", std::string("nominal")}});
  static const TemplateValues kMeasure =
      fields_at_instant({{"name", std::string("core 95 %")}, {"over_s", kOne}, {"over_ms", kOne}});
  static const TemplateValues kWait{{"segment", std::string("1")},
                                    {"duration_s", kOne},
                                    {"kind", std::string("operator")},
                                    {"what", std::string("Connect J3")},
                                    {"within_s", kOne}};
  switch (part) {
    case TemplatePart::Header:
    case TemplatePart::Footer:
      return kDocument;
    case TemplatePart::Setup:
      return kSetup;
    case TemplatePart::Role:
      return kRole;
    case TemplatePart::Segment:
      return kSegment;
    case TemplatePart::Row:
      return kRow;
    case TemplatePart::Line:
      return kLine;
    case TemplatePart::Mark:
      return kMark;
    case TemplatePart::Measure:
      return kMeasure;
    case TemplatePart::Wait:
      return kWait;
  }
  return kDocument;
}

std::string fill_in(const std::string& format, const TemplateValues& fields) {
  fmt::dynamic_format_arg_store<fmt::format_context> store;
  const auto add = [&store](const TemplateValue& field, const auto& value) {
    store.push_back(fmt::arg(field.name.c_str(), value));
  };
  for (const TemplateValue& field : fields) {
    std::visit(Overloaded{[&](std::int64_t value) { add(field, value); },
                          [&](const std::string& value) { add(field, export_detail::Words{value}); },
                          [&](const std::optional<Rational>& value) { add(field, export_detail::Number{value}); },
                          [&](const std::optional<bool>& value) { add(field, export_detail::Truth{value}); }},
               field.value);
  }
  return fmt::vformat(format, store);
}

}  // namespace rampart
