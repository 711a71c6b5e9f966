# Writes a source file that holds the style and the script of a report. Run as a script:
# cmake -DLIBRARY=dygraph.min.js -DLIBRARY_STYLE=dygraph.min.css -DFOLDER=runtime/report -DOUTPUT=report_assets.cpp -P EmbedReport.cmake
function(read_asset path result)
  file(READ "${path}" text)
  # A browser's tools would ask for the map.
  string(REGEX REPLACE "(//|/\\*)# sourceMappingURL=[^\n]*" "" text "${text}")
  string(STRIP "${text}" text)
  set(${result} "${text}\n" PARENT_SCOPE)
endfunction()

read_asset("${LIBRARY}" library)
read_asset("${LIBRARY_STYLE}" library_style)
read_asset("${FOLDER}/report.css" style)
set(script "")
foreach(part wave format chart overview view page)
  read_asset("${FOLDER}/${part}.js" text)
  string(APPEND script "${text}")
endforeach()

file(WRITE "${OUTPUT}" "#include \"runtime/report/assets.h\"

namespace rampart::report {

std::string_view page_style() {
  static constexpr std::string_view kStyle = R\"asset(${library_style}${style})asset\";
  return kStyle;
}

std::string_view page_script() {
  static constexpr std::string_view kScript = R\"asset(/* dygraphs 2.2.1, (c) Dan Vanderkam and contributors, MIT licence */
${library}(() => {
'use strict';
${script}})();
)asset\";
  return kScript;
}

}  // namespace rampart::report
")
