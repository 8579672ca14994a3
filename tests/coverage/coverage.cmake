# Included where AFTERSHEATH_COVERAGE is on (tests/coverage/run): daemon/clinical counts its branches, everything else is built as it is.
# -fno-exceptions: the folder neither throws nor catches (the compiler then refuses either), so what is left out are only the edges that a throwing
# library function would take through it and the clean-up on their way: the throw branches, left out by the compiler and not by guess.
# -fno-threadsafe-statics: no branch for a second thread that waits for the first one at a function's own constant.
target_compile_options(clinical PRIVATE --coverage -fno-exceptions -fno-threadsafe-statics)
target_link_options(clinical INTERFACE --coverage)
# The folder stands first on the line of the linker, so that what its headers define is taken from it and counts.
foreach(binary clinical_test campaign)
  target_link_options(${binary} BEFORE PRIVATE LINKER:--whole-archive $<TARGET_FILE:clinical> LINKER:--no-whole-archive)
endforeach()
