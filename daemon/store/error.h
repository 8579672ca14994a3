#pragma once

#include <boost/system/result.hpp>
#include <cstdint>
#include <string>

namespace store {

// Milliseconds since 1970-01-01T00:00:00Z, always given by the caller: the store reads no clock.
using Millis = std::int64_t;

// What the caller does next decides the kind.
enum class ErrorKind {
  full,      // no room: nothing changed, the store stays usable; answer 503 and try again later
  busy,      // another process holds the store: nothing changed
  corrupt,   // the file is damaged or not ours: do not go on, restore a backup
  io_fatal,  // a write, fsync or commit failed: what is on disk is unknown until the store is opened anew; stop
  logic      // the caller asked for something that cannot be (unknown id, wrong state): nothing changed
};

struct Error {
  ErrorKind kind = ErrorKind::logic;
  std::string text;  // for people; names no patient data
};

[[nodiscard]] const char* name(ErrorKind kind);

template <class T>
using Result = boost::system::result<T, Error>;

// Called by result::value() on an error, which is a programming error: throws std::logic_error with the text.
[[noreturn]] void throw_exception_from_error(const Error& error, const boost::source_location& where);

}  // namespace store
