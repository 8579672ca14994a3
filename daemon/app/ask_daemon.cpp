#include "app/ask_daemon.h"

#include <fstream>
#include <future>
#include <iterator>

#include "json/tree.h"
#include "transport/http_client.h"
#include "transport/io.h"

namespace app {
namespace {

/// Where the configuration leaves the port to the machine, a file beside the store says which one it was.
std::string address_of(const Rules& rules) {
  const std::string& configured = rules.configuration.listen.admin_address;
  if (!configured.ends_with(":0")) return configured;
  std::ifstream file(ports_beside(rules.configuration.store.path));
  const auto ports = json::parse(std::string(std::istreambuf_iterator<char>(file), {}));
  return ports.has_value() && !(*ports)["admin"].text().empty() ? std::string((*ports)["admin"].text()) : configured;
}

}  // namespace

std::filesystem::path ports_beside(std::filesystem::path store) { return store += ".ports"; }

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
