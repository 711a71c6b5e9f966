# Writes a source file that holds the files that `rampart new` writes. Run as a script:
# cmake -DFOLDER=runtime/starter -DOUTPUT=starter_templates.cpp -P EmbedStarter.cmake
file(READ "${FOLDER}/starter.ramp" profile)
file(READ "${FOLDER}/starter.bench.yaml" bench)
file(READ "${FOLDER}/starter.load.yaml" load)

file(WRITE "${OUTPUT}" "#include \"runtime/starter/templates.h\"

namespace rampart::starter {

std::string_view profile_template() {
  return R\"starter(${profile})starter\";
}

std::string_view bench_template() {
  return R\"starter(${bench})starter\";
}

std::string_view load_template() {
  return R\"starter(${load})starter\";
}

}  // namespace rampart::starter
")
