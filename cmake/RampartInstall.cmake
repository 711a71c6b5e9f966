# `cmake --install`: the program, the three layers with their headers, the documents, the examples and a package
# description for find_package(rampart).
include_guard()
include(CMakePackageConfigHelpers)
include(GNUInstallDirs)

set(package_dir "${CMAKE_INSTALL_LIBDIR}/cmake/rampart")

install(TARGETS rampart)
get_property(installed GLOBAL PROPERTY RAMPART_INSTALLED)
install(TARGETS ${installed} EXPORT rampart-targets)
install(
  DIRECTORY lang compiler runtime
  DESTINATION "${CMAKE_INSTALL_INCLUDEDIR}/rampart"
  FILES_MATCHING
  PATTERN "*.h"
  PATTERN "*.def"
  PATTERN "*.inc"
  PATTERN "lang/syntax/grammar" EXCLUDE)
install(EXPORT rampart-targets NAMESPACE rampart:: DESTINATION "${package_dir}")
configure_package_config_file(
  cmake/rampart-config.cmake.in "${PROJECT_BINARY_DIR}/rampart-config.cmake" INSTALL_DESTINATION "${package_dir}")
write_basic_package_version_file("${PROJECT_BINARY_DIR}/rampart-config-version.cmake" COMPATIBILITY SameMinorVersion)
install(FILES "${PROJECT_BINARY_DIR}/rampart-config.cmake" "${PROJECT_BINARY_DIR}/rampart-config-version.cmake"
              cmake/RampartDependencies.cmake DESTINATION "${package_dir}")
install(FILES README.md LICENSE DESTINATION "${CMAKE_INSTALL_DOCDIR}")
install(DIRECTORY docs/ DESTINATION "${CMAKE_INSTALL_DOCDIR}")
install(DIRECTORY profiles DESTINATION "${CMAKE_INSTALL_DATADIR}/rampart")
