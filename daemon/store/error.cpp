#include "store/error.h"

#include <stdexcept>

namespace store {

const char* name(ErrorKind kind) {
  switch (kind) {
    case ErrorKind::full:
      return "full";
    case ErrorKind::busy:
      return "busy";
    case ErrorKind::corrupt:
      return "corrupt";
    case ErrorKind::io_fatal:
      return "io_fatal";
    case ErrorKind::logic:
      return "logic";
  }
  return "unknown";
}

void throw_exception_from_error(const Error& error, const boost::source_location&) {
  throw std::logic_error(std::string(name(error.kind)) + ": " + error.text);
}

}  // namespace store
