// An authorisation server and a record that wants its tokens, over real sockets. Assertions are verified by libjwt, not by our own code.
#pragma once

#include <gmock/gmock.h>

#include <atomic>
#include <mutex>
#include <set>
#include <string>
#include <vector>

#include "transport/http_client.h"
#include "transport/http_server.h"

namespace auth {

/// Made for this run by OpenSSL: PEM of the private and of the public half.
struct TestKey {
  std::string secret, shared;
};
TestKey rsa_key(int bits = 2048);
TestKey p384_key();

class Record {
 public:
  explicit Record(std::string client_key);
  std::string base() const { return "http://127.0.0.1:" + std::to_string(server_->port()) + "/fhir"; }
  std::string token_url() const { return "http://127.0.0.1:" + std::to_string(server_->port()) + "/token"; }

  // How it behaves, from now on
  std::atomic<int> life{300};              ///< seconds of a token
  std::atomic<int> token_status{200};      ///< else an OAuth error
  std::atomic<bool> client_unknown{false};
  std::atomic<long> clock_apart{0};        ///< seconds that its clock is ahead of ours; its token answers say so in Date
  std::atomic<bool> takes_none{false};     ///< whatever the token server gave
  std::atomic<bool> hold_tokens{false};    ///< answers of the token endpoint wait for release()
  std::string granted;                     ///< scope of the answer; empty: as asked
  std::string configuration_more;          ///< members added to the SMART configuration
  void release();
  void revoke();                           ///< no token given so far is taken any more

  // What it saw
  std::atomic<int> tokens{0}, asked{0}, discovered{0}, served{0};
  std::vector<std::string> faults();       ///< of assertions
  std::string last_authorization();

 private:
  void answer(transport::Request, transport::Reply);
  transport::Response token(const transport::Request&);
  void fault(std::string text);

  std::string client_key_;
  std::mutex mutex_;
  std::set<std::string> ids_, taken_;
  std::vector<std::string> faults_;
  std::string last_;
  std::vector<std::pair<transport::Reply, transport::Response>> held_;
  transport::Io io_;
  std::unique_ptr<transport::HttpServer> server_;
};

}  // namespace auth
