// Who sends: secrets and signatures. RFC 2104 and RFC 4231 for HMAC; the signatures below are made by the openssl command, not by our code.
#include <gmock/gmock.h>

#include <cstdio>

#include "auth/sender_proof.h"

namespace auth {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

constexpr std::int64_t kNow = 1'772'460'000;

std::string by_openssl(const std::string& key, const std::string& text, const char* form) {
  const std::string command = "printf '%s' '" + text + "' | openssl dgst -sha256 -hmac '" + key + "' " + form;
  FILE* pipe = popen(command.c_str(), "r");
  std::string out;
  for (int c = 0; (c = std::fgetc(pipe)) != EOF;) out += static_cast<char>(c);
  pclose(pipe);
  while (!out.empty() && out.back() == '\n') out.pop_back();
  const auto space = out.rfind(' ');
  return space == std::string::npos ? out : out.substr(space + 1);
}

transport::Request signed_at(std::int64_t at, const std::string& id, const std::string& body, const std::string& key = "shared") {
  return {.method = "POST", .target = "/fhir", .headers = {{"webhook-id", id}, {"webhook-timestamp", std::to_string(at)},
          {"webhook-signature", "v1," + by_openssl(key, id + "." + std::to_string(at) + "." + body, "-binary | base64 -w0")}}, .body = body};
}

std::string why(SenderProof& proof, const transport::Request& request, std::int64_t now = kNow) {
  const auto objection = proof.objection(request, now);
  return objection ? objection->why : "genuine";
}

TEST(Sender, WithoutRulesEverybodyIsTaken) {
  SenderProof proof({});
  EXPECT_TRUE(proof.asks_for_nothing());
  EXPECT_EQ(why(proof, {}), "genuine");
}

TEST(Sender, ASharedSecretAndTheOneThatFollowsIt) {
  SenderProof proof({.asks_secret = true, .secrets = {"old-secret", "new-secret"}});
  EXPECT_EQ(why(proof, {.headers = {{"x-sender-key", "old-secret"}}}), "genuine");
  EXPECT_EQ(why(proof, {.headers = {{"X-Sender-Key", "new-secret"}}}), "genuine");
  for (const char* wrong : {"", "old", "old-secret2", "OLD-SECRET"}) EXPECT_THAT(why(proof, {.headers = {{"X-Sender-Key", wrong}}}), HasSubstr("missing or wrong")) << wrong;
  EXPECT_THAT(why(proof, {}), HasSubstr("X-Sender-Key"));
}

TEST(Sender, ASignatureOverTheBody) {
  SenderProof proof({.asks_signature = true, .signing_secrets = {"shared"}, .signature_header = "X-Signature"});
  const std::string good = by_openssl("shared", "{\"a\": 1}", "");
  EXPECT_EQ(why(proof, {.method = "PUT", .headers = {{"X-Signature", good}}, .body = "{\"a\": 1}"}), "genuine");
  EXPECT_EQ(why(proof, {.method = "PUT", .headers = {{"X-Signature", "sha256=" + good}}, .body = "{\"a\": 1}"}), "genuine");
  EXPECT_THAT(why(proof, {.method = "PUT", .headers = {{"X-Signature", good}}, .body = "{\"a\": 2}"}), HasSubstr("does not fit"));
  EXPECT_THAT(why(proof, {.method = "PUT", .body = "{\"a\": 1}"}), HasSubstr("missing"));
  EXPECT_THAT(why(proof, {.method = "DELETE", .headers = {{"X-Signature", good}}, .body = "{\"a\": 1}"}), HasSubstr("DELETE without a body is not taken"));
  EXPECT_THAT(why(proof, {.method = "POST", .headers = {{"X-Signature", by_openssl("shared", "", "")}}}), HasSubstr("covers the body alone"));
}

TEST(Sender, ASignedMessageCountsOnceAndNotForLong) {
  SenderProof proof({.asks_signature = true, .signing_secrets = {"shared"}});
  EXPECT_EQ(why(proof, signed_at(kNow, "m1", "body")), "genuine");
  EXPECT_TRUE(proof.objection(signed_at(kNow, "m1", "body"), kNow)->under_way) << "a success now could be the only answer to an event that is not durable";
  proof.taken(signed_at(kNow, "m1", "body"));
  EXPECT_TRUE(proof.objection(signed_at(kNow, "m1", "body"), kNow)->taken_before);
  EXPECT_EQ(why(proof, signed_at(kNow, "m2", "body")), "genuine");
  // RFC-less convention, "about five minutes": inclusive at both ends.
  EXPECT_EQ(why(proof, signed_at(kNow - 300, "m3", "body")), "genuine");
  EXPECT_EQ(why(proof, signed_at(kNow + 300, "m4", "body")), "genuine");
  EXPECT_THAT(why(proof, signed_at(kNow - 301, "m5", "body")), HasSubstr("too long ago"));
  EXPECT_THAT(why(proof, signed_at(kNow + 301, "m6", "body")), HasSubstr("too long ago"));
  auto changed = signed_at(kNow, "m7", "body");
  changed.body = "other";
  EXPECT_THAT(why(proof, changed), HasSubstr("does not fit"));
  EXPECT_THAT(why(proof, signed_at(kNow, "m8", "body", "guessed")), HasSubstr("does not fit"));
}

TEST(Sender, WhatWasNotTakenMayComeAgain) {
  SenderProof proof({.asks_signature = true, .signing_secrets = {"shared"}});
  const auto request = signed_at(kNow, "m1", "body");
  EXPECT_EQ(why(proof, request), "genuine");
  proof.forget(request);
  EXPECT_EQ(why(proof, request), "genuine");
}

TEST(Sender, SeveralSignaturesAndSecretsWhileOneFollowsAnother) {
  SenderProof proof({.asks_signature = true, .signing_secrets = {"next", "shared"}});
  auto request = signed_at(kNow, "m1", "body");
  request.headers.set("webhook-signature", "v1,AAAA " + std::string(*request.headers.get("webhook-signature")) + " v2,xyz");
  EXPECT_EQ(why(proof, request), "genuine");
}

TEST(Sender, SecretsStandOneALine) { EXPECT_THAT(secrets_of(" one \r\n\n# old\n two\n"), ElementsAre("one", "two")); }

TEST(Sender, WhereThereIsNoSecretToCompareWithNobodyComesIn) {
  SenderProof proof({.asks_secret = true});
  EXPECT_FALSE(proof.asks_for_nothing());
  EXPECT_THAT(why(proof, {.headers = {{"X-Sender-Key", ""}}}), HasSubstr("missing or wrong"));
  proof.replace({.asks_secret = true, .secrets = {"new-secret"}});
  EXPECT_EQ(why(proof, {.headers = {{"X-Sender-Key", "new-secret"}}}), "genuine");
}

}  // namespace
}  // namespace auth
