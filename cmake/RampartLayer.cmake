# rampart_layer(NAME): makes rampart_NAME, a static library that the caller has added, one of the exported layers.
# Others link it as rampart::NAME, in this build and after installation alike.
include_guard()

function(rampart_layer name)
  add_library(rampart::${name} ALIAS rampart_${name})
  set_target_properties(rampart_${name} PROPERTIES EXPORT_NAME ${name})
  target_compile_features(rampart_${name} PUBLIC cxx_std_20)
  target_include_directories(
    rampart_${name} PUBLIC "$<BUILD_INTERFACE:${PROJECT_SOURCE_DIR}>" "$<INSTALL_INTERFACE:include/rampart>")
  target_link_libraries(rampart_${name} PRIVATE $<BUILD_INTERFACE:rampart_settings>)
endfunction()
