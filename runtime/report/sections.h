#pragma once

#include "runtime/report/subject.h"

// The parts of a report, each a section with its heading.
namespace rampart::report {

[[nodiscard]] Markup verdict_section(const Subject& subject);
// What logs say of the run; empty without any.
[[nodiscard]] Markup as_run_section(const Subject& subject);
[[nodiscard]] Markup findings_section(const Subject& subject);
// Which rail is where, by which leads, behind which protection; the lines; the parts of the load.
[[nodiscard]] Markup wiring_section(const Subject& subject);
[[nodiscard]] Markup charts_section(const Subject& subject);
// Margins, rules, expectations, energy and charge.
[[nodiscard]] Markup margins_section(const Subject& subject);
// Empty without readings.
[[nodiscard]] Markup readings_section(const Subject& subject);
[[nodiscard]] Markup figures_section(const Subject& subject);
// What the ends of tolerances come to; empty where they were not tried.
[[nodiscard]] Markup corners_section(const Subject& subject);
// The ranges of parameters and the map of two; empty without a sweep.
[[nodiscard]] Markup sweep_section(const Subject& subject);
// Shorts and open circuits of each rail; empty where they were not tried.
[[nodiscard]] Markup faults_section(const Subject& subject);
[[nodiscard]] Markup sign_off_section(const Subject& subject);
[[nodiscard]] Markup table_section(const Subject& subject);
[[nodiscard]] Markup cautions_section(const Subject& subject);
[[nodiscard]] Markup origin_section(const Subject& subject);
[[nodiscard]] Markup source_section(const Subject& subject);

// <section> with a heading that the page's contents can point to.
[[nodiscard]] Markup section(std::string_view id, std::string_view heading, const Markup& inside);

// "overvoltage protection above 13.5 V; fuse after 50 ms in constant current".
[[nodiscard]] std::string protection_words(const Profile& profile, const Protection& protection);

// A finding's severity as a word in a badge.
[[nodiscard]] Markup severity_badge(const Finding& finding);

// The courses for the page's script: JSON that may stand in a <script> element.
[[nodiscard]] std::string chart_data(const Subject& subject);

}  // namespace rampart::report
