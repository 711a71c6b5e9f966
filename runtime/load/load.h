#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "lang/findings/finding.h"
#include "lang/text/source.h"
#include "lang/values/quantity.h"
#include "runtime/load/elements/elements.h"

// What the device looks like to each rail. SI units in doubles: the simulation is where exact numbers end.
namespace rampart {

struct LoadElement {
  Span span;
  ElementPart what;
  std::string name{};  // as the load file calls it; empty where it does not
  [[nodiscard]] std::string_view kind() const { return kind_of(what); }
};

struct RailLoad {
  std::string rail;
  Span span;
  Toleranced wire;                    // there and back, between terminals and load
  std::vector<LoadElement> elements;  // all in parallel behind the wire

  // What an element is called: by its name, else "capacitor 1", counted by kind.
  [[nodiscard]] std::string name_of(std::size_t element) const;
};

// At `mark` + `after` (which may be negative), the rail's elements become `becomes` (an empty list is an open circuit).
struct Fault {
  std::string name;
  Span span;
  std::string rail;
  std::optional<std::string> mark;  // none: counted from the start of the run
  Nanoseconds after{0};
  std::vector<LoadElement> becomes;
  Span mark_span;  // of the mark's name, where there is one
};

struct Load {
  TextPtr text;  // that it was read from; null: it was made in memory
  std::string title;
  std::vector<RailLoad> rails;
  std::vector<Fault> faults;

  [[nodiscard]] const RailLoad* find_rail(std::string_view name) const;
  [[nodiscard]] const Fault* find_fault(std::string_view name) const;
};

// Reads a load file. Empty when the findings hold an error of this file; every mistake is reported, not the first.
[[nodiscard]] std::optional<Load> read_load(const SourceSet& sources, FileId file, FindingSink& findings);

}  // namespace rampart
