# SPDX-License-Identifier: GPL-3.0-or-later
# Text files as string literals: -DPARTS=name=file;... -DOUT=file.cpp. Scripts that would end the element they stand in
# are refused.
set(text "// Made by embed.cmake.\n#include \"page_parts_impl.h\"\n\nnamespace holdfast::picture {\n\n")
foreach(part ${PARTS})
  string(REGEX MATCH "^([^=]*)=(.*)$" _ ${part})
  set(name ${CMAKE_MATCH_1})
  file(READ ${CMAKE_MATCH_2} contents)
  if(name MATCHES "_js$" AND contents MATCHES "</script")
    message(FATAL_ERROR "${CMAKE_MATCH_2} holds </script, which cannot stand in a page")
  endif()
  if(name STREQUAL "three_js")
    string(REGEX MATCH "REVISION ?= ?[\"']([0-9a-z]+)[\"']" _ "${contents}")
    string(APPEND text "const std::string_view three_version = \"r${CMAKE_MATCH_1}\";\n")
  endif()
  string(APPEND text "const std::string_view ${name} = R\"holdfast(${contents})holdfast\";\n\n")
endforeach()
string(APPEND text "}  // namespace holdfast::picture\n")
file(WRITE ${OUT} "${text}")
