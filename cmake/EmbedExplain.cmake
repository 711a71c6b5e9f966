# Writes a source file that holds the pages of docs/explain, so that the program explains its findings without its
# documents. Run as a script: cmake -DFOLDER=docs/explain -DOUTPUT=explain_pages.cpp -P EmbedExplain.cmake
file(GLOB pages "${FOLDER}/*.md")
list(SORT pages)

set(rows "")
foreach(page IN LISTS pages)
  get_filename_component(name "${page}" NAME_WE)
  file(READ "${page}" text)
  string(APPEND rows "    {\"${name}\", R\"explain(${text})explain\"},\n")
endforeach()

set(source "#include \"runtime/cli/shared/catalogue.h\"

namespace rampart::cli {

std::span<const ExplainPage> explain_pages() {
  static constexpr ExplainPage kPages[] = {
${rows}  };
  return kPages;
}

}  // namespace rampart::cli
")
file(WRITE "${OUTPUT}" "${source}")
