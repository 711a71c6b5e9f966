# A room is a folder of one layer: one static library with one purpose. Its CMakeLists.txt is one call:
#
#   rampart_room(
#     FOR "one sentence: what it is for"
#     PUBLIC what.h others.h      # headers that other rooms may include; the rest of its headers are its own
#     USES lang/text lang/values  # rooms whose headers it may include, directly or through a public header
#     FILES source.cpp files.cpp
#     ALONE source.cpp            # those of them that are compiled alone also where others are compiled together
#     LIBRARIES yaml-cpp ...)     # targets of third-party libraries behind its .cpp files
#
# The lists are rules: tests/meta/check_layers.py compares them with what the files include.
include_guard()

function(rampart_room)
  cmake_parse_arguments(PARSE_ARGV 0 room "" "FOR" "PUBLIC;USES;FILES;ALONE;LIBRARIES")
  if(room_UNPARSED_ARGUMENTS OR NOT room_FOR)
    message(FATAL_ERROR "rampart_room: what is it for, and what is `${room_UNPARSED_ARGUMENTS}`?")
  endif()
  file(RELATIVE_PATH folder "${PROJECT_SOURCE_DIR}" "${CMAKE_CURRENT_SOURCE_DIR}")
  rampart_room_target("${folder}" target)
  string(REPLACE "rampart_" "" name "${target}")
  if(room_FILES)
    add_library(${target} STATIC ${room_FILES})
    set(scope PUBLIC)
    target_link_libraries(${target} PRIVATE $<BUILD_INTERFACE:rampart_settings> ${room_LIBRARIES})
    target_precompile_headers(${target} REUSE_FROM rampart_precompiled)
    set_source_files_properties(${room_ALONE} PROPERTIES SKIP_UNITY_BUILD_INCLUSION ON)
  else()
    add_library(${target} INTERFACE)
    set(scope INTERFACE)
  endif()
  set_target_properties(${target} PROPERTIES EXPORT_NAME ${name})
  target_compile_features(${target} ${scope} cxx_std_20)
  target_include_directories(
    ${target} ${scope} "$<BUILD_INTERFACE:${PROJECT_SOURCE_DIR}>" "$<INSTALL_INTERFACE:include/rampart>")
  foreach(used IN LISTS room_USES)
    rampart_room_target("${used}" used_target)
    target_link_libraries(${target} ${scope} ${used_target})
  endforeach()
  # The commands are the program, and no part of the layer that others link.
  string(REGEX MATCH "^(runtime/cli|[a-z]+)" layer "${folder}")
  set_property(GLOBAL APPEND PROPERTY RAMPART_ROOMS_OF_${layer} ${target})
endfunction()

# runtime/report -> rampart_runtime_report
function(rampart_room_target folder result)
  string(REPLACE "/" "_" name "${folder}")
  set(${result} "rampart_${name}" PARENT_SCOPE)
endfunction()

# rampart_layer(NAME): rampart::NAME is all rooms of that layer, in this build and after installation alike.
function(rampart_layer name)
  get_property(rooms GLOBAL PROPERTY RAMPART_ROOMS_OF_${name})
  add_library(rampart_${name} INTERFACE)
  add_library(rampart::${name} ALIAS rampart_${name})
  set_target_properties(rampart_${name} PROPERTIES EXPORT_NAME ${name})
  target_link_libraries(rampart_${name} INTERFACE ${rooms})
  set_property(GLOBAL APPEND PROPERTY RAMPART_INSTALLED ${rooms} rampart_${name})
endfunction()
