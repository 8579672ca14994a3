#include <algorithm>
#include <chrono>
#include <mutex>
#include <iterator>
#include <set>
#include <sstream>
#include <utility>

#include "auth/client_assertion.h"
#include "auth/credentials.h"
#include "json/tree.h"
#include "transport/masked.h"
#include "transport/retry_after.h"

namespace auth {
namespace {

using Clock = std::chrono::steady_clock;
using std::chrono::milliseconds;
using std::chrono::seconds;
using transport::Failure;
using transport::FailureKind;

constexpr seconds longest_wish{900};  // of a token server, to be left alone: longer than that somebody is to hear of it

std::string form_encoded(std::string_view text) {
  constexpr std::string_view digits = "0123456789ABCDEF";
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if ((c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '-' || c == '.' || c == '_' || c == '~') out += c;
    else (out += '%', out += digits[byte >> 4U], out += digits[byte & 15U]);
  }
  return out;
}

std::set<std::string> words_of(const std::string& text) {
  std::istringstream in(text);
  return {std::istream_iterator<std::string>(in), {}};
}

// "system/Task.crus": what stands between the dot and a question mark.
struct Scope {
  std::string resource, rights;
};
Scope parts(const std::string& scope) {
  const auto dot = scope.find('.', scope.find('/') == std::string::npos ? 0 : scope.find('/'));
  if (dot == std::string::npos) return {scope, {}};
  std::string rights = scope.substr(dot + 1, scope.find('?') == std::string::npos ? std::string::npos : scope.find('?') - dot - 1);
  // The older spelling: read is r and s, write is c, u and d (SMART App Launch 2, "Scopes for requesting FHIR Resources").
  if (rights == "read") rights = "rs";
  else if (rights == "write") rights = "cud";
  else if (rights == "*") rights = "cruds";
  return {scope.substr(0, dot), rights};
}

// Asked for and not given, right by right: "system/Task.c". A server may answer in another spelling, or give all types at once.
std::vector<std::string> not_granted(const std::string& asked, const std::string& given) {
  std::vector<std::string> missing;
  const auto granted = words_of(given);
  for (const auto& scope : words_of(asked)) {
    if (granted.contains(scope)) continue;
    const Scope want = parts(scope);
    std::string lacking;
    for (const char right : want.rights) {
      const bool has = std::ranges::any_of(granted, [&](const std::string& g) {
        const Scope have = parts(g);
        const bool type = have.resource == want.resource || (have.resource == "system/*" && want.resource.starts_with("system/"));
        return type && g.find('?') == std::string::npos && have.rights.find(right) != std::string::npos;
      });
      if (!has) lacking += right;
    }
    if (want.rights.empty()) missing.push_back(scope);
    else if (!lacking.empty()) missing.push_back(want.resource + "." + lacking);
  }
  return missing;
}

class BackendService final : public Credentials {
 public:
  BackendService(transport::Network& network, std::function<SigningKey()> key, BackendServiceOptions options)
      : shared_(std::make_shared<Shared>(network, std::move(key), std::move(options))) {}
  ~BackendService() override { shared_->close(); }

  void header(std::function<void(Header)> then) override { shared_->header(std::move(then)); }
  bool refused(const std::string& header) override { return shared_->refused(header); }
  void accepted(const std::string& header) override { shared_->accepted(header); }
  AccessState state() const override { return shared_->state(); }

 private:
  // Answers may come after the owner is gone.
  struct Shared : std::enable_shared_from_this<Shared> {
    Shared(transport::Network& n, std::function<SigningKey()> k, BackendServiceOptions o) : network(n), key(std::move(k)), options(std::move(o)), endpoint(options.token_url), pause(options.first_pause) {}

    void header(std::function<void(Header)> then) {
      std::unique_lock lock(mutex);
      const auto now = Clock::now();
      if (!value.empty() && now < renew_at) {
        const std::string header = value;
        lock.unlock();
        return then(header);
      }
      if (!asking && now < not_before) {
        // A token that is about to end still serves while the server is out.
        const Header answer = !value.empty() && now < ends_at ? Header{value} : Header{Failure{FailureKind::not_sent, trouble}};
        lock.unlock();
        return then(answer);
      }
      // While another is fetched the one that still lasts serves; where none does, everybody waits for the one.
      const std::string header = !value.empty() && now < ends_at ? value : "";
      if (header.empty()) waiting.push_back(std::move(then));
      const bool first = !asking;
      asking = true;
      const bool known = !endpoint.empty();
      lock.unlock();
      if (!header.empty()) then(header);
      if (!first) return;
      known ? ask() : discover();
    }

    bool refused(const std::string& header) {
      const std::scoped_lock lock(mutex);
      if (value != header) return true;  // another one is there already
      const auto now = Clock::now();
      // Good for other requests: this one is not ours to make, and another token would not help.
      if (good && now < vain_until && ++vain < 3) return false;
      if (++refusals == 2) vain_until = now + options.longest_pause;  // a fresh one was refused as well
      if (refusals == 2 || refusals == 3) return false;               // perhaps for this request alone: the next ones show it
      value.clear(), good = false;
      if (refusals > 3) {
        trouble = "The record refuses the token that the authorisation server gave.";
        not_before = Clock::now() + spread(pause);
        pause = std::min(pause * 2, options.longest_pause);
      }
      return Clock::now() >= not_before;
    }

    void accepted(const std::string& header) {
      const std::scoped_lock lock(mutex);
      if (value != header) return;
      good = true, vain = 0;
      if (refusals > 1) pause = options.first_pause, trouble.clear();
      refusals = 0;
    }

    AccessState state() {
      const std::scoped_lock lock(mutex);
      AccessState state{"backend-services", trouble.empty() && missing.empty(), trouble, missing, -1};
      if (!value.empty()) state.valid_seconds = std::max<std::int64_t>(0, std::chrono::duration_cast<seconds>(ends_at - Clock::now()).count());
      return state;
    }

    void close() {
      const std::scoped_lock lock(mutex);
      closed = true;
      waiting.clear();
    }

    void discover() {
      transport::OutgoingRequest request{.method = "GET", .url = options.base_url + "/.well-known/smart-configuration", .headers = {{"Accept", "application/json"}, {"X-Request-Id", options.fresh_id()}}, .timeout = options.timeout, .body_limit = 1u << 20};
      network.send(std::move(request), [self = shared_from_this()](transport::Outcome outcome) { self->take_configuration(outcome); });
    }

    void take_configuration(const transport::Outcome& outcome) {
      const std::string where = options.base_url + "/.well-known/smart-configuration";
      const auto* answer = std::get_if<transport::Response>(&outcome);
      if (!answer) return fail("The token endpoint cannot be discovered: " + std::get<Failure>(outcome).text, false);
      learn_clock(*answer);
      const auto read = json::parse(answer->body);
      if (answer->status != 200 || read.has_error()) return fail(where + " answered " + std::to_string(answer->status) + " without a SMART configuration.", false);
      const std::string found((*read)["token_endpoint"].text());
      if (found.empty()) return fail(where + " names no token_endpoint.", false);
      if (!offers(*read, "token_endpoint_auth_methods_supported", "private_key_jwt")) return fail(where + " does not offer private_key_jwt: backend services are not possible there.", false);
      if (const auto algorithm = key().algorithm(); !offers(*read, "token_endpoint_auth_signing_alg_values_supported", algorithm))
        return fail(where + " does not take " + std::string(algorithm) + ": use a key of the other kind (RSA for RS384, P-384 for ES384).", false);
      {
        const std::scoped_lock lock(mutex);
        endpoint = found;
      }
      ask();
    }

    // A list that is not there forbids nothing.
    static bool offers(const json::Value& configuration, std::string_view list, std::string_view name) {
      const auto& offered = configuration[list];
      return !offered.is_array() || std::ranges::any_of(offered.items(), [&](const json::Value& one) { return one.text() == name; });
    }

    void ask() {
      std::string to;
      {
        const std::scoped_lock lock(mutex);
        to = endpoint;
      }
      const std::string assertion = signed_assertion(key(), {options.client_id, to, options.fresh_id(), options.now() + apart()});
      if (assertion.empty()) return fail("The assertion could not be signed.", false);
      std::string body = "grant_type=client_credentials&scope=" + form_encoded(options.scope) +
                         "&client_assertion_type=" + form_encoded("urn:ietf:params:oauth:client-assertion-type:jwt-bearer") + "&client_assertion=" + form_encoded(assertion);
      transport::OutgoingRequest request{.method = "POST", .url = to, .headers = {{"Content-Type", "application/x-www-form-urlencoded"}, {"Accept", "application/json"}, {"X-Request-Id", options.fresh_id()}}, .body = std::move(body),
                                         .timeout = options.timeout, .body_limit = 1u << 20};
      network.send(std::move(request), [self = shared_from_this(), to](transport::Outcome outcome) { self->take_token(to, outcome); });
    }

    /// Several clients that lost the same server do not come back as one.
    milliseconds spread(milliseconds length) const {
      return options.chance ? std::chrono::duration_cast<milliseconds>(length * (0.9 + 0.2 * options.chance())) : length;
    }

    /// How far its clock is from ours: an assertion that has ended there, or has not begun, is refused as if we were somebody else.
    std::int64_t apart() {
      const std::scoped_lock lock(mutex);
      return seconds_apart;
    }

    /// True: its clock turned out to be another than thought, and the next assertion will say another time.
    bool learn_clock(const transport::Response& answer) {
      const auto date = answer.headers.get("Date");
      const auto theirs = date ? transport::seconds_of_http_date(*date) : std::nullopt;
      if (!theirs) return false;
      const std::scoped_lock lock(mutex);
      const auto difference = *theirs - options.now();
      const auto before = std::exchange(seconds_apart, difference > 5 || difference < -5 ? difference : 0);
      return before - seconds_apart > 30 || seconds_apart - before > 30;
    }

    void take_token(const std::string& from, const transport::Outcome& outcome) {
      const auto* answer = std::get_if<transport::Response>(&outcome);
      const bool learned = answer && learn_clock(*answer);
      if (!answer) return fail("No token: " + std::get<Failure>(outcome).text, false);
      const auto read = json::parse(answer->body);
      const std::string token(read.has_error() ? std::string_view{} : (*read)["access_token"].text());
      if (answer->status != 200 || token.empty() || !transport::is_header_value(token)) {
        std::string error(read.has_error() ? std::string_view{} : (*read)["error"].text());
        const std::string described(read.has_error() ? std::string_view{} : (*read)["error_description"].text());
        {
          const std::scoped_lock lock(mutex);
          if (options.token_url.empty()) endpoint.clear();  // it may have moved
        }
        const auto wish = answer->status == 429 || answer->status == 503 ? std::min<seconds>(transport::retry_after(*answer), longest_wish) : seconds{0};
        return fail("No token: " + from + " answered " + std::to_string(answer->status) + (error.empty() ? "." : " (" + error.substr(0, 60) + (described.empty() ? "" : ": " + transport::masked(described, 200)) + ")."), (error == "invalid_client" || error == "unauthorized_client") && !learned, wish);
      }
      // Recommended life 300 s where none is said ("expires_in", SMART Backend Services).
      const std::int64_t life = std::clamp<std::int64_t>((*read)["expires_in"].integer().value_or(300), 1, 86'400);
      const std::string given((*read)["scope"].text());
      std::vector<std::function<void(Header)>> served;
      std::string header = "Bearer " + token;
      {
        const std::scoped_lock lock(mutex);
        const auto now = Clock::now();
        value = header, good = false, client_refusals = 0;
        ends_at = now + seconds{life};
        renew_at = ends_at - std::min<milliseconds>(seconds{60}, milliseconds{life * 200});
        if (refusals < 4) pause = options.first_pause, trouble.clear();
        missing = given.empty() ? std::vector<std::string>{} : not_granted(options.scope, given);
        asking = false;
        served.swap(waiting);
      }
      for (auto& then : served) then(header);
    }

    /// `wish`: how long the server asks to be left alone.
    void fail(std::string why, bool client_refused, seconds wish = seconds{0}) {
      std::vector<std::function<void(Header)>> served;
      Header answer;
      {
        const std::scoped_lock lock(mutex);
        const auto now = Clock::now();
        // Once may be a node of it that has not heard of our key yet; again is a person's matter.
        if (client_refused && ++client_refusals > 1) pause = options.longest_pause;
        not_before = now + std::max<milliseconds>(spread(pause), wish);
        pause = std::min(pause * 2, options.longest_pause);
        trouble = why;
        asking = false;
        if (!value.empty() && now < ends_at) answer = value;
        else answer = Failure{FailureKind::not_sent, std::move(why)};
        served.swap(waiting);
      }
      for (auto& then : served) then(answer);
    }

    transport::Network& network;
    const std::function<SigningKey()> key;
    const BackendServiceOptions options;
    std::mutex mutex;  // guards what follows
    std::string endpoint, value, trouble;
    std::vector<std::string> missing;
    Clock::time_point renew_at{}, ends_at{}, not_before{};
    milliseconds pause;
    int client_refusals = 0;  // in a row
    std::vector<std::function<void(Header)>> waiting;
    std::int64_t seconds_apart = 0;
    bool good = false;  // the record has taken the token in use
    Clock::time_point vain_until{};
    bool asking = false, closed = false;
    int refusals = 0;  // of the record, in a row
    int vain = 0;      // of a good token, in a row
  };

  std::shared_ptr<Shared> shared_;
};

}  // namespace

std::unique_ptr<Credentials> backend_service(transport::Network& network, std::function<SigningKey()> key, BackendServiceOptions options) {
  return std::make_unique<BackendService>(network, std::move(key), std::move(options));
}

}  // namespace auth
