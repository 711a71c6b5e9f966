#include "runtime/report/markup.h"

#include <cstdint>

#include "lang/text/character.h"

namespace rampart::report {
namespace {

constexpr std::string_view kReplacement = "\uFFFD";

void append_escaped(std::string_view any, std::string& html) {
  for (std::size_t i = 0; i < any.size();) {
    const Character character = character_at(any, i);
    const std::string_view sequence = any.substr(i, character.length);
    i += sequence.size();
    const bool lays_out = character.code == '\n' || character.code == '\t';
    if (!character.valid || (is_hidden(character.code) && !lays_out)) {
      html += kReplacement;
    } else if (sequence == "&") {
      html += "&amp;";
    } else if (sequence == "<") {
      html += "&lt;";
    } else if (sequence == ">") {
      html += "&gt;";
    } else if (sequence == "\"") {
      html += "&quot;";
    } else if (sequence == "'") {
      html += "&#39;";
    } else {
      html += sequence;
    }
  }
}

}  // namespace

Markup text(std::string_view any) {
  std::string html;
  append_escaped(any, html);
  return Markup(std::move(html));
}

Markup message(std::string_view any) {
  Markup result;
  while (!any.empty()) {
    const std::size_t open = any.find('`');
    const std::size_t close = open == std::string_view::npos ? open : any.find('`', open + 1);
    if (close == std::string_view::npos) break;
    result += text(any.substr(0, open)) + element("code", text(any.substr(open + 1, close - open - 1)));
    any.remove_prefix(close + 1);
  }
  return result + text(any);
}

Markup verbatim(std::string_view html) {
  return Markup(std::string(html));
}

Markup element(std::string_view tag, Attributes attributes, const Markup& inside) {
  std::string html = "<" + std::string(tag);
  for (const auto& [key, value] : attributes) {
    html += " " + std::string(key) + "=\"";
    append_escaped(value, html);
    html += '"';
  }
  html += ">" + inside.html() + "</" + std::string(tag) + ">";
  return Markup(std::move(html));
}

Markup name(std::string_view any) {
  return element("bdi", text(any));
}

HtmlTable::HtmlTable(std::string_view caption, const std::vector<std::string>& columns) : caption_(caption) {
  for (const std::string& column : columns) {
    const bool is_number = column.starts_with('#');
    is_number_.push_back(is_number);
    titles_.emplace_back(is_number ? column.substr(1) : column);
  }
}

void HtmlTable::add_row(std::string_view kind, const std::vector<Markup>& cells) {
  Markup row;
  for (std::size_t i = 0; i < cells.size(); ++i) {
    row += is_number_[i] ? element("td", {{"class", "number"}}, cells[i]) : element("td", cells[i]);
  }
  rows_ += kind.empty() ? element("tr", row) : element("tr", {{"class", std::string(kind)}}, row);
  rows_ += verbatim("\n");
}

void HtmlTable::add_band(const Markup& words) {
  rows_ += element("tr", {{"class", "bar"}}, element("td", {{"colspan", std::to_string(titles_.size())}}, words));
  rows_ += verbatim("\n");
}

Markup HtmlTable::markup() const {
  Markup head;
  for (std::size_t i = 0; i < titles_.size(); ++i) {
    head += element("th", {{"scope", "col"}, {"class", is_number_[i] ? "number" : "word"}}, text(titles_[i]));
  }
  const Markup table = element("table", element("caption", element("span", text(caption_))) +
                                            element("thead", element("tr", head)) + element("tbody", rows_));
  return element("div", {{"class", "wide"}, {"tabindex", "0"}, {"role", "group"}, {"aria-label", caption_}}, table);
}

}  // namespace rampart::report
