#include "auth/authorized_network.h"

#include <utility>

namespace auth {
namespace {

using Done = std::function<void(transport::Outcome)>;

void send_with(transport::Network& network, Credentials& credentials, transport::OutgoingRequest request, Done done, bool again) {
  auto kept = again ? request : transport::OutgoingRequest{};
  credentials.header([&network, &credentials, request = std::move(request), kept = std::move(kept), done = std::move(done), again](Credentials::Header header) mutable {
    if (auto* failure = std::get_if<transport::Failure>(&header)) return done(std::move(*failure));
    const std::string value = std::get<std::string>(std::move(header));
    if (!value.empty()) request.headers.set("Authorization", value);
    network.send(std::move(request), [&network, &credentials, kept = std::move(kept), done = std::move(done), again, value](transport::Outcome outcome) mutable {
      const auto* answer = std::get_if<transport::Response>(&outcome);
      if (answer && answer->status != 401) credentials.accepted(value);
      if (answer && answer->status == 401 && credentials.refused(value) && again) return send_with(network, credentials, std::move(kept), std::move(done), false);
      done(std::move(outcome));
    });
  });
}

}  // namespace

AuthorizedNetwork::AuthorizedNetwork(transport::Network& network, Credentials& credentials, std::string base_url, std::function<void(std::function<void()>)> post)
    : network_(network), credentials_(credentials), base_url_(std::move(base_url)), post_(std::move(post)) {}

void AuthorizedNetwork::send(transport::OutgoingRequest request, Done done) {
  const bool ours = request.url.starts_with(base_url_) && (request.url.size() == base_url_.size() || request.url[base_url_.size()] == '/' || request.url[base_url_.size()] == '?');
  if (!ours) return network_.send(std::move(request), std::move(done));
  post_([&network = network_, &credentials = credentials_, request = std::move(request), done = std::move(done)]() mutable {
    send_with(network, credentials, std::move(request), std::move(done), true);
  });
}

}  // namespace auth
