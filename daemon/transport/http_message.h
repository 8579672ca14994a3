// One HTTP request and one HTTP answer as plain values. Nothing here touches a socket, so that the rest of the daemon
// can be driven with such values from a test.
#pragma once

#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace transport {

struct Header {
  std::string name;
  std::string value;
  bool operator==(Header const&) const = default;
};

/// Header fields in the order in which they were received or added; the same name may occur again.
/// Names are compared without regard to ASCII case (RFC 9110, section 5.1).
class Headers {
 public:
  Headers() = default;
  Headers(std::initializer_list<Header> fields) : fields_(fields) {}

  void add(std::string name, std::string value);
  /// Replaces every field of that name by one, at the end.
  void set(std::string name, std::string value);
  void erase(std::string_view name);

  /// The first field of that name; nothing when there is none (an empty value is a value).
  /// The view is valid until the fields are changed.
  std::optional<std::string_view> get(std::string_view name) const;
  std::size_t count(std::string_view name) const;

  auto begin() const { return fields_.begin(); }
  auto end() const { return fields_.end(); }
  std::size_t size() const { return fields_.size(); }
  bool empty() const { return fields_.empty(); }
  bool operator==(Headers const&) const = default;

 private:
  std::vector<Header> fields_;
};

/// A request as it came in: complete, body included, transfer coding removed.
struct Request {
  std::string method = {};  ///< any token, as written by the client: "GET", "PUT", "PATCH", ...
  std::string target = {};  ///< path and query as received, percent-encoding kept
  Headers headers = {};
  std::string body = {};         ///< bytes; empty when there was none
  std::string peer = {};         ///< address and port of the client, "127.0.0.1:51234" or "[::1]:51234"
  std::string tls_subject = {};  ///< subject of the verified client certificate; empty without one
};

/// An answer. Content-Length, Transfer-Encoding, Connection and Keep-Alive are set by whoever sends it; a caller's own
/// are left out. Date is left to the caller, because this folder has no clock.
struct Response {
  int status = 200;  ///< 200..599; anything else is sent as 500
  Headers headers = {};
  std::string body = {};
};

/// ASCII only; other bytes must be equal.
bool equal_ignoring_case(std::string_view a, std::string_view b);

/// Method and header names must be tokens (RFC 9110, section 5.6.2). The empty text is none.
bool is_token(std::string_view text);

/// True when the text has no control character that could end a header line early (CR, LF, NUL).
bool is_header_value(std::string_view text);

}  // namespace transport
