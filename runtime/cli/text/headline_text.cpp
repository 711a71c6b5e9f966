#include "runtime/cli/text/headline_text.h"

#include <algorithm>
#include <vector>

#include "runtime/predict/headline.h"

namespace rampart::cli {
namespace {

// More failures and trips than this are told by their number; the findings and events have all.
constexpr std::size_t kMostLines = 3;

class HeadlineText {
 public:
  HeadlineText(const Answer& answer, const Headline& headline)
      : sources_(answer.findings.texts()), headline_(headline) {}

  std::string write() {
    text_ = verdict_text(headline_) + "\n";
    write_lines(headline_.failures);
    if (!headline_.incident.empty()) text_ += "\nthe run that is shown is " + headline_.incident + "\n";
    write_lines(headline_.trips);
    write_tightest();
    write_reached();
    write_not_judged();
    return text_;
  }

 private:
  void write_title(std::string_view title) { text_ += "\n" + std::string(title) + "\n"; }

  void write_lines(const std::vector<HeadlineLine>& lines) {
    for (std::size_t i = 0; i < std::min(lines.size(), kMostLines); ++i) {
      text_ += "  " + lines[i].text + line_of(lines[i].place, ", line ") + "\n";
    }
    if (lines.size() > kMostLines) text_ += "  … and " + std::to_string(lines.size() - kMostLines) + " more\n";
  }

  void write_tightest() {
    if (headline_.tightest.empty()) return;
    write_title(headline_.tightest.size() == 1 ? "tightest margin" : "tightest margins");
    std::size_t width = 0;
    for (const TightMargin& margin : headline_.tightest) width = std::max(width, columns_of(margin.what));
    for (const TightMargin& margin : headline_.tightest) {
      text_ += "  " + margin.what + ":" + std::string(width - columns_of(margin.what) + 1, ' ') + margin.left;
      if (!margin.share.empty()) text_ += " (" + margin.share + ")";
      text_ += margin.corner.empty() ? when(*margin.nominal) : ", with " + margin.corner;
      text_ += "\n";
    }
  }

  void write_reached() {
    if (headline_.reached.empty()) return;
    write_title("limits reached, without a trip");
    write_lines(headline_.reached);
  }

  // When it is least; a spell that never began has no time.
  [[nodiscard]] std::string when(const Margin& margin) const {
    if (margin.statement.end <= margin.statement.begin) return "";
    return ", at " + to_text(margin.time_s, "s") + in_pass(margin.passes) + line_of(margin.statement, ", line ");
  }

  void write_not_judged() {
    if (headline_.not_judged.empty()) return;
    write_title("not judged");
    for (const std::string& what : headline_.not_judged) text_ += "  " + what + "\n";
  }

  [[nodiscard]] std::string line_of(const Span& place, const std::string& before) const {
    // What concerns a file as a whole has no place in it.
    if (place.end == 0) return "";
    return before + std::to_string(sources_[place.file].position(place.begin).line);
  }

  static std::size_t columns_of(const std::string& text) {
    const auto starts = [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; };
    return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), starts));
  }

  const SourceSet& sources_;
  const Headline& headline_;
  std::string text_;
};

}  // namespace

std::string headline_text(const Answer& answer, bool strict) {
  return HeadlineText(answer, headline_of(answer, strict)).write();
}

std::string verdict_line(const Answer& answer, bool strict) {
  return answer.path + ": " + verdict_text(headline_of(answer, strict)) + "\n";
}

}  // namespace rampart::cli
