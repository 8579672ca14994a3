// A Network whose requests to one record carry its credentials.
#pragma once

#include <functional>
#include <memory>
#include <string>

#include "auth/credentials.h"
#include "transport/network.h"

namespace auth {

/// Requests below `base_url` get Authorization; any other address, whatever a link in an answer says, goes out without (a token is never sent elsewhere). After a
/// 401 the credentials are renewed and the request is sent once more: a request that was refused has done nothing (RFC 9110, section 15.5.2). Where there are no
/// credentials the request ends as not_sent. `network` and `credentials` must outlive it; both may be used by others.
class AuthorizedNetwork final : public transport::Network {
 public:
  /// `post` runs work later, on any thread: what fails at once must not end inside send().
  AuthorizedNetwork(transport::Network& network, Credentials& credentials, std::string base_url, std::function<void(std::function<void()>)> post);
  void send(transport::OutgoingRequest request, std::function<void(transport::Outcome)> done) override;

 private:
  transport::Network& network_;
  Credentials& credentials_;
  std::string base_url_;
  std::function<void(std::function<void()>)> post_;
};

}  // namespace auth
