#include "app/ask_daemon.h"

#include <future>

#include "app/open_store.h"
#include "transport/http_client.h"
#include "transport/io.h"

namespace app {
namespace {

/// Where the configuration leaves the port to the machine, the store knows which one it was.
std::string address_of(const Rules& rules) {
  const std::string& address = rules.configuration.listen.admin_address;
  if (!address.ends_with(":0")) return address;
  Rules to_open = rules;
  const auto opened = open_store_to_read(to_open);
  if (opened.has_error()) return address;
  const auto noted = (*opened)->meta("admin");
  return noted.has_value() && *noted && !(*noted)->empty() ? **noted : address;
}

}  // namespace

std::optional<transport::Response> ask_daemon(const Rules& rules, const std::string& method, const std::string& target) {
  transport::Io io;
  transport::HttpClient client(io);
  io.start();
  std::promise<transport::Outcome> answered;
  transport::OutgoingRequest request;
  request.method = method;
  request.url = "http://" + address_of(rules) + target;
  request.timeout = std::chrono::seconds{120};
  client.send(std::move(request), [&answered](transport::Outcome outcome) { answered.set_value(std::move(outcome)); });
  const transport::Outcome outcome = answered.get_future().get();
  const auto* response = std::get_if<transport::Response>(&outcome);
  return response ? std::optional(*response) : std::nullopt;
}

}  // namespace app
