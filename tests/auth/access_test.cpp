// Getting in: HL7 SMART App Launch 2.2, "Backend Services" and "Client Authentication: Asymmetric"; RFC 7515, 7517, 7518, 7523, 7617, 7638.
#include <future>
#include <thread>

#include "auth/authorized_network.h"
#include "auth/client_assertion.h"
#include "record_support.h"

namespace auth {
namespace {

using namespace std::chrono_literals;
using testing::HasSubstr;
using testing::IsEmpty;

constexpr const char* kScope = "system/Patient.rs system/Task.crus";

/// The whole chain over real sockets.
struct Client {
  explicit Client(Record& to, const TestKey& key, std::string scope = kScope, bool discover = true) : record(to), http(io, {}) {
    io.start();
    static std::atomic<int> count{0};
    BackendServiceOptions options{.base_url = record.base(), .token_url = discover ? "" : record.token_url(), .client_id = "aftersheath-7", .scope = std::move(scope),
                                  .now = [] { return static_cast<std::int64_t>(std::time(nullptr)); }, .fresh_id = [] { return "0123456789abcdef0123456789abcdef-" + std::to_string(++count); }};
    options.first_pause = 300ms;
    options.longest_pause = 2000ms;
    credentials = backend_service(http, [signing = *SigningKey::read(key.secret)] { return signing; }, options);
    network = std::make_unique<AuthorizedNetwork>(http, *credentials, record.base(), [this](std::function<void()> work) { io.post(std::move(work)); });
  }
  std::future<transport::Outcome> send(transport::OutgoingRequest request) {
    auto promise = std::make_shared<std::promise<transport::Outcome>>();
    network->send(std::move(request), [promise](transport::Outcome outcome) { promise->set_value(std::move(outcome)); });
    return promise->get_future();
  }
  std::future<transport::Outcome> get(const std::string& path = "/Patient/p") { return send({.url = record.base() + path}); }

  Record& record;
  transport::Io io;
  transport::HttpClient http;
  std::unique_ptr<Credentials> credentials;
  std::unique_ptr<AuthorizedNetwork> network;
};

int status_of(std::future<transport::Outcome> future) {
  const auto outcome = future.get();
  const auto* answer = std::get_if<transport::Response>(&outcome);
  return answer ? answer->status : 0;
}
std::string failure_of(std::future<transport::Outcome> future) {
  const auto outcome = future.get();
  const auto* failure = std::get_if<transport::Failure>(&outcome);
  return failure ? std::string(name_of(failure->kind)) + ": " + failure->text : "an answer";
}

TEST(Access, BothAlgorithmsAreVerifiedByAnotherLibrary) {
  for (const TestKey& key : {rsa_key(), p384_key()}) {
    Record record(key.shared);
    Client client(record, key);
    EXPECT_EQ(status_of(client.get()), 200);
    EXPECT_EQ(status_of(client.get("/Task/t")), 200);
    EXPECT_EQ(record.tokens, 1) << "one token serves many requests";
    EXPECT_EQ(record.discovered, 1);
    EXPECT_THAT(record.faults(), IsEmpty());
    EXPECT_EQ(record.last_authorization(), "Bearer token-1");
  }
}

TEST(Access, ASignatureOfAnotherKeyIsNotTaken) {
  Record record(rsa_key().shared);
  Client client(record, rsa_key());
  EXPECT_THAT(failure_of(client.get()), HasSubstr("not_sent: No token"));
  EXPECT_FALSE(record.faults().empty()) << "the control: libjwt does notice";
}

TEST(Access, HoweverManyWaitOneTokenIsFetched) {
  const TestKey key = p384_key();
  Record record(key.shared);
  Client client(record, key);
  record.hold_tokens = true;
  std::vector<std::future<transport::Outcome>> all;
  for (int i = 0; i < 20; ++i) all.push_back(client.get("/Task/" + std::to_string(i)));
  while (record.asked == 0) std::this_thread::sleep_for(5ms);
  std::this_thread::sleep_for(50ms);
  record.release();
  for (auto& one : all) EXPECT_EQ(status_of(std::move(one)), 200);
  EXPECT_EQ(record.asked, 1);
  EXPECT_EQ(record.served, 20);
}

TEST(Access, ARefusedTokenIsRenewedAndTheRequestSentOnceMore) {
  const TestKey key = p384_key();
  Record record(key.shared);
  Client client(record, key);
  EXPECT_EQ(status_of(client.get()), 200);
  record.revoke();
  const auto outcome = client.send({.method = "PUT", .url = record.base() + "/Task/t", .body = "body kept"}).get();
  ASSERT_TRUE(std::holds_alternative<transport::Response>(outcome));
  EXPECT_EQ(std::get<transport::Response>(outcome).body, "PUT /fhir/Task/t body kept");
  EXPECT_EQ(record.tokens, 2);
  EXPECT_THAT(record.faults(), IsEmpty()) << "a new assertion with a new jti";
}

TEST(Access, WhatIsRefusedTwiceIsReported) {
  const TestKey key = p384_key();
  Record record(key.shared);
  Client client(record, key, kScope);
  EXPECT_EQ(status_of(client.get()), 200);
  record.revoke();
  record.token_status = 500;
  EXPECT_THAT(failure_of(client.get()), HasSubstr("answered 500 (server_error)"));
}

TEST(Access, ARecordThatRefusesEveryTokenIsNotHammeredAndIsNamed) {
  const TestKey key = p384_key();
  Record record(key.shared);
  record.takes_none = true;
  Client client(record, key);
  for (int i = 0; i < 10; ++i) status_of(client.get());
  EXPECT_LE(record.asked, 3) << "a token or two, then a pause";
  EXPECT_THAT(client.credentials->state().trouble, HasSubstr("refuses the token"));
  record.takes_none = false;
  std::this_thread::sleep_for(1300ms);
  EXPECT_EQ(status_of(client.get()), 200);
  EXPECT_EQ(client.credentials->state().trouble, "");
}

// "20 % or 60 s before the end, whichever is less": of a token that lives 2 s 0.4 s.
TEST(Access, ATokenIsRenewedBeforeItEnds) {
  const TestKey key = p384_key();
  Record record(key.shared);
  record.life = 2;
  Client client(record, key);
  EXPECT_EQ(status_of(client.get()), 200);
  EXPECT_EQ(status_of(client.get()), 200);
  EXPECT_EQ(record.tokens, 1);
  std::this_thread::sleep_for(1700ms);
  EXPECT_EQ(status_of(client.get()), 200) << "by the one that still lasts, while another is fetched";
  for (int tries = 0; tries < 200 && record.tokens < 2; ++tries) std::this_thread::sleep_for(10ms);
  EXPECT_EQ(record.tokens, 2);
}

// Ours was set back, or ahead, or theirs was: an assertion in our time is refused there as if we were somebody else.
TEST(Access, AClockTenMinutesApartIsLearnedFromTheAnswer) {
  for (const long apart : {600L, -600L}) {
    const TestKey key = p384_key();
    Record record(key.shared);
    record.clock_apart = apart;
    Client client(record, key);
    int status = 0;
    for (int tries = 0; tries < 200 && status != 200; ++tries) {
      status = status_of(client.get());
      if (status != 200) std::this_thread::sleep_for(50ms);
    }
    EXPECT_EQ(status, 200) << apart;
    EXPECT_LE(record.asked, 2) << "one refusal, and no long pause after it";
    EXPECT_TRUE(record.faults().empty());
  }
}

TEST(Access, ATokenThatStillLivesServesWhileTheServerIsOut) {
  const TestKey key = p384_key();
  Record record(key.shared);
  record.life = 3;
  Client client(record, key);
  EXPECT_EQ(status_of(client.get()), 200);
  record.token_status = 503;
  std::this_thread::sleep_for(2500ms);  // renewal is due, the token lives on
  EXPECT_EQ(status_of(client.get()), 200);
  for (int tries = 0; tries < 40 && client.credentials->state().trouble.empty(); ++tries) std::this_thread::sleep_for(10ms);  // it is fetched behind the request
  EXPECT_THAT(client.credentials->state().trouble, HasSubstr("answered 503"));
}

TEST(Access, AnOutageIsNotHammeredAndEndsByItself) {
  const TestKey key = p384_key();
  Record record(key.shared);
  record.token_status = 503;
  Client client(record, key);
  for (int i = 0; i < 30; ++i) EXPECT_THAT(failure_of(client.get()), HasSubstr("not_sent"));
  EXPECT_EQ(record.asked, 1) << "the others fail at once";
  record.token_status = 200;
  std::this_thread::sleep_for(350ms);
  EXPECT_EQ(status_of(client.get()), 200);
  EXPECT_TRUE(client.credentials->state().usable);
}

TEST(Access, AClientThatIsRefusedTwiceWaitsLongest) {
  const TestKey key = p384_key();
  Record record(key.shared);
  record.client_unknown = true;
  Client client(record, key);
  EXPECT_THAT(failure_of(client.get()), HasSubstr("(invalid_client)"));
  for (int again = 0; again < 4; ++again) {
    std::this_thread::sleep_for(400ms);
    failure_of(client.get());
  }
  EXPECT_EQ(record.asked, 2) << "once may be a node that has not heard of our key yet";
}

TEST(Access, NarrowerScopesAreNamed) {
  const TestKey key = p384_key();
  Record record(key.shared);
  record.granted = "system/Patient.rs system/Task.rs";
  Client client(record, key);
  EXPECT_EQ(status_of(client.get()), 200);
  EXPECT_THAT(client.credentials->state().not_granted, testing::ElementsAre("system/Task.cu"));
  EXPECT_FALSE(client.credentials->state().usable);
}

TEST(Access, OtherSpellingsOfTheSameScopesAreUnderstood) {
  const TestKey key = p384_key();
  for (const char* granted : {"system/*.cruds", "system/Patient.read system/Task.read system/Task.write", "system/*.read system/*.write launch"}) {
    Record record(key.shared);
    record.granted = granted;
    Client client(record, key);
    EXPECT_EQ(status_of(client.get()), 200);
    EXPECT_THAT(client.credentials->state().not_granted, IsEmpty()) << granted;
  }
}

TEST(Access, ATokenIsNeverSentElsewhere) {
  const TestKey key = p384_key();
  Record record(key.shared), other(key.shared);
  Client client(record, key);
  EXPECT_EQ(status_of(client.get()), 200);
  EXPECT_EQ(status_of(client.send({.url = other.base() + "/Patient/p"})), 401) << "goes out, without a token";
  EXPECT_EQ(other.last_authorization(), "");
  EXPECT_EQ(status_of(client.send({.url = record.base() + "evil/Patient/p"})), 401) << "a path that only begins alike";
  EXPECT_EQ(record.last_authorization(), "");
}

TEST(Access, WhatTheConfigurationDoesNotOfferIsSaid) {
  const TestKey key = p384_key();
  {
    Record record(key.shared);
    record.configuration_more = R"(,"token_endpoint_auth_signing_alg_values_supported":["RS384"])";
    Client client(record, key);
    EXPECT_THAT(failure_of(client.get()), HasSubstr("does not take ES384"));
  }
  Record record(key.shared);
  record.configuration_more = R"(,"token_endpoint_auth_methods_supported":["client_secret_basic"])";
  Client client(record, key);
  EXPECT_THAT(failure_of(client.get()), HasSubstr("does not offer private_key_jwt"));
}

TEST(Access, WithATokenAddressNothingIsDiscovered) {
  const TestKey key = p384_key();
  Record record(key.shared);
  Client client(record, key, kScope, false);
  EXPECT_EQ(status_of(client.get()), 200);
  EXPECT_EQ(record.discovered, 0);
}

TEST(AccessFixed, AReplacedFileCountsAfterARefusal) {
  std::string value = "Bearer one";
  std::chrono::steady_clock::time_point at{1h};
  const auto fixed = fixed_credentials("bearer", [&] { return value; }, [&] { return at; });
  const auto now = [&] {
    std::string got;
    fixed->header([&](Credentials::Header header) { got = std::holds_alternative<std::string>(header) ? std::get<std::string>(header) : "none"; });
    return got;
  };
  EXPECT_EQ(now(), "Bearer one");
  EXPECT_FALSE(fixed->refused("Bearer one")) << "nothing new to try";
  EXPECT_FALSE(fixed->state().usable);
  EXPECT_EQ(now(), "none") << "a wrong password is not sent again and again";
  at += 5s;
  EXPECT_EQ(now(), "Bearer one");
  EXPECT_FALSE(fixed->refused("Bearer one"));
  at += 9s;
  EXPECT_EQ(now(), "none") << "the second pause is longer";
  at += 2s;
  EXPECT_EQ(now(), "Bearer one");
  fixed->accepted("Bearer one");
  EXPECT_TRUE(fixed->state().usable);
  EXPECT_FALSE(fixed->refused("Bearer one"));
  value = "Bearer two";
  EXPECT_EQ(now(), "Bearer two") << "a replaced file counts at once";
  EXPECT_TRUE(fixed->state().usable);
  value.clear();
  EXPECT_FALSE(fixed->refused("Bearer two"));
  EXPECT_EQ(now(), "none");
}

// RFC 7617, section 2: user "Aladdin", password "open sesame".
TEST(AccessFixed, BasicAsTheRfcShowsIt) { EXPECT_EQ(basic_header("Aladdin", "open sesame"), "Basic QWxhZGRpbjpvcGVuIHNlc2FtZQ=="); }

// RFC 4648, section 10, in the url alphabet without padding.
TEST(AccessKeys, Base64Url) {
  EXPECT_EQ(base64url(""), "");
  EXPECT_EQ(base64url("f"), "Zg");
  EXPECT_EQ(base64url("fo"), "Zm8");
  EXPECT_EQ(base64url("foobar"), "Zm9vYmFy");
  EXPECT_EQ(base64url("\xfb\xff"), "-_8");
}

TEST(AccessKeys, WhatCannotSignIsRefusedWithAReason) {
  EXPECT_THAT(SigningKey::read("").error().text, HasSubstr("no unencrypted private key"));
  EXPECT_THAT(SigningKey::read(rsa_key().shared).error().text, HasSubstr("no unencrypted private key"));
  EXPECT_THAT(SigningKey::read(rsa_key(1024).secret).error().text, HasSubstr("2048 bits"));
}

TEST(AccessKeys, ThePublishedSetHasNothingSecret) {
  const auto first = *SigningKey::read(rsa_key().secret), second = *SigningKey::read(p384_key().secret);
  const auto set = key_set({first, second});
  ASSERT_EQ(set["keys"].size(), 2U);
  const auto& rsa = set["keys"].at(0);
  const auto& ec = set["keys"].at(1);
  EXPECT_EQ(rsa["kty"].text(), "RSA");
  EXPECT_EQ(rsa["alg"].text(), "RS384");
  EXPECT_EQ(rsa["e"].text(), "AQAB");
  EXPECT_EQ(ec["crv"].text(), "P-384");
  EXPECT_EQ(ec["x"].text().size(), 64U) << "48 bytes, leading zeros kept";
  EXPECT_EQ(ec["y"].text().size(), 64U);
  for (const char* secret : {"d", "p", "q", "dp", "dq", "qi"}) EXPECT_FALSE(rsa.has(secret) || ec.has(secret)) << secret;
  EXPECT_NE(rsa["kid"].text(), ec["kid"].text());
  EXPECT_EQ(first.id().size(), 43U) << "SHA-256 in base64url";
}

}  // namespace
}  // namespace auth
