// Inside transport/: our messages from and to Beast's.
#pragma once

#include <boost/beast/http/fields.hpp>
#include <boost/beast/http/message.hpp>
#include <boost/beast/http/string_body.hpp>

#include "transport/http_message.h"

namespace transport {

struct AnswerForm {
  unsigned version = 11;
  bool keep_alive = false;
  bool without_body = false;  ///< to HEAD: the length of the body is told, the body is not sent
};

/// Content-Length, Transfer-Encoding, Connection, Keep-Alive: set by this folder only.
bool is_about_framing(std::string_view name);

Headers headers_of(boost::beast::http::fields const& fields);

/// Leaves out fields with a name that is no token or a value that would break the header, and the caller's own fields
/// about length and connection.
boost::beast::http::response<boost::beast::http::string_body> to_beast(Response answer, AnswerForm form);

}  // namespace transport
