#include "app/ask_daemon.h"

#include <future>

#include "transport/http_client.h"
#include "transport/io.h"

namespace app {

std::optional<transport::Response> ask_daemon(const Rules& rules, const std::string& method, const std::string& target) {
  transport::Io io;
  transport::HttpClient client(io);
  io.start();
  std::promise<transport::Outcome> answered;
  transport::OutgoingRequest request;
  request.method = method;
  request.url = "http://" + rules.configuration.listen.admin_address + target;
  request.timeout = std::chrono::seconds{120};
  client.send(std::move(request), [&answered](transport::Outcome outcome) { answered.set_value(std::move(outcome)); });
  const transport::Outcome outcome = answered.get_future().get();
  const auto* response = std::get_if<transport::Response>(&outcome);
  return response ? std::optional(*response) : std::nullopt;
}

}  // namespace app
