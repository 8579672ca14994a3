#include "transport/message_convert.h"

namespace http = boost::beast::http;

namespace transport {
namespace {

bool has_body(unsigned status) { return status != 204 && status != 304; }

}  // namespace

bool is_about_framing(std::string_view name) {
  for (auto const* ours : {"Content-Length", "Transfer-Encoding", "Connection", "Keep-Alive"})
    if (equal_ignoring_case(name, ours)) return true;
  return false;
}

Headers headers_of(http::fields const& fields) {
  Headers headers;
  for (auto const& field : fields) headers.add(std::string(field.name_string()), std::string(field.value()));
  return headers;
}

http::response<http::string_body> to_beast(Response answer, AnswerForm form) {
  bool const sendable = answer.status >= 200 && answer.status <= 599;
  http::response<http::string_body> message;
  message.version(form.version);
  message.result(sendable ? static_cast<unsigned>(answer.status) : 500U);
  for (auto const& [name, value] : answer.headers)
    if (is_token(name) && is_header_value(value) && !is_about_framing(name)) message.insert(name, value);
  message.keep_alive(form.keep_alive);
  if (has_body(message.result_int())) {
    message.content_length(answer.body.size());
    if (!form.without_body) message.body() = std::move(answer.body);
  }
  return message;
}

}  // namespace transport
