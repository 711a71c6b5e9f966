#pragma once

#include <string>
#include <string_view>

#include "lang/findings/finding.h"
#include "lang/syntax/parse.h"
#include "lang/text/source.h"

namespace rampart::test {

// A text with what the parser makes of it.
struct Parsed {
  explicit Parsed(std::string text)
      : file(sources.add("test.ramp", std::move(text))), profile(parse(sources, file, sink)) {}
  Parsed(const Parsed&) = delete;
  Parsed& operator=(const Parsed&) = delete;

  // Each finding as "line:column message", a line each.
  [[nodiscard]] std::string findings() const {
    std::string text;
    for (const Finding& finding : sink.findings()) {
      const Position position = sources[file].position(finding.span.begin);
      text += std::to_string(position.line) + ":" + std::to_string(position.column) + " " + finding.message + "\n";
    }
    return text;
  }

  SourceSet sources;
  FindingSink sink;
  FileId file;
  ast::Profile profile;
};

}  // namespace rampart::test
