// The way to the record: client, credentials, keys, from the configuration.
#pragma once

#include <boost/system/result.hpp>
#include <filesystem>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "app/rules.h"
#include "auth/authorized_network.h"
#include "auth/credentials.h"
#include "auth/signing_key.h"
#include "transport/http_client.h"
#include "transport/io.h"
#include "transport/polite_network.h"

namespace app {

struct AccessFault {
  std::string text;  ///< for people; never a secret
};

struct Secret {
  std::string text;
};

/// A secret's file as the configuration names it: "credential:NAME" is NAME in the folder that the service manager hands out ($CREDENTIALS_DIRECTORY, as systemd does),
/// anything else a path. Without the line end; a fault where it cannot be read or is empty.
std::filesystem::path secret_path(const std::filesystem::path& named);
boost::system::result<Secret, AccessFault> read_secret(const std::filesystem::path& named);

/// `name`: the configuration's key without its table.
boost::system::result<auth::SigningKey, AccessFault> key_from(const std::filesystem::path& file, const char* name);

/// The keys that sign for us, as their files hold them now: looked at when they are asked for, read anew when they changed. Thread-safe.
class SigningKeys {
 public:
  /// A fault where `file` holds no key. A `next` that is empty or not there means that no other key is published.
  static boost::system::result<std::unique_ptr<SigningKeys>, AccessFault> open(std::filesystem::path file, std::filesystem::path next);

  auth::SigningKey signing();     ///< of `file`; the last one that could be read
  json::Value published();        ///< JSON Web Key Set: the signing key, and the next one
  std::string trouble();          ///< why a file that changed could not be taken: what was read before still serves; empty: none

 private:
  SigningKeys(std::filesystem::path file, std::filesystem::path next) : file_(std::move(file)), next_(std::move(next)) {}
  boost::system::result<void, AccessFault> read();
  void refresh();

  const std::filesystem::path file_, next_;
  std::mutex mutex_;  // guards what follows
  std::string stamp_, trouble_;
  std::vector<auth::SigningKey> keys_;  ///< never empty after open()
};

/// What is asked of the authorisation server: access.scope, and what only this configuration makes needed and access.scope does not speak of: Subscription with
/// [subscriptions], Communication with record.writing = documents, Group, Appointment with [roster].
std::string wanted_scope(const profile::Configuration&);

/// For a configuration with a record. `io` and `timers` must outlive it. Requests to the record keep their manners (transport/polite_network.h), those for a token
/// go to another server and have pauses of their own.
class RecordAccess {
 public:
  static boost::system::result<std::unique_ptr<RecordAccess>, AccessFault> open(transport::Io& io, transport::Timers& timers, const Rules& rules);

  transport::Network& network() { return *network_; }
  auth::AccessState state() const { return credentials_->state(); }
  /// Why a signing key whose file changed is not in use; empty: none.
  std::string key_trouble() const { return keys_ ? keys_->trouble() : std::string{}; }
  transport::Manners manners() const { return polite_->manners(); }
  /// Served at /.well-known/jwks.json; null where nothing is signed.
  json::Value key_set() const { return keys_ ? keys_->published() : json::Value(); }

 private:
  RecordAccess() = default;
  std::unique_ptr<transport::HttpClient> client_;
  std::unique_ptr<SigningKeys> keys_;      ///< null where nothing is signed
  std::unique_ptr<auth::Credentials> credentials_;
  std::unique_ptr<transport::PoliteNetwork> polite_;
  std::unique_ptr<auth::AuthorizedNetwork> network_;
};

}  // namespace app
