# Puts the text of each store/schema/NNNN.sql into schema_text.cpp, which implements store/schema.h.
file(GLOB schema_scripts CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/store/schema/*.sql)
list(SORT schema_scripts)
set(schema_rows "")
foreach(script IN LISTS schema_scripts)
  set_property(DIRECTORY APPEND PROPERTY CMAKE_CONFIGURE_DEPENDS ${script})
  get_filename_component(number ${script} NAME_WE)
  string(REGEX REPLACE "^0+" "" number ${number})
  file(READ ${script} text)
  string(APPEND schema_rows "    {${number}, R\"sql(${text})sql\"},\n")
endforeach()
file(CONFIGURE OUTPUT ${CMAKE_CURRENT_BINARY_DIR}/store/schema_text.cpp @ONLY CONTENT [[
#include "store/schema.h"

namespace store {
namespace {
constexpr SchemaStep kSteps[] = {
@schema_rows@};
}  // namespace

std::span<const SchemaStep> schema_steps() { return kSteps; }

}  // namespace store
]])
target_sources(store PRIVATE ${CMAKE_CURRENT_BINARY_DIR}/store/schema_text.cpp)
