// What of the record's answer is kept, and what of that may be logged. All answers are invented.
#include <gtest/gtest.h>

#include "app/answer_text.h"
#include "transport/masked.h"

namespace {

transport::Response answer(int status, std::string body, std::string type = "application/fhir+json") {
  return {status, {{"Content-Type", type}}, std::move(body)};
}

TEST(AnswerText, SaysCodeElementAndCodedWords) {
  const auto said = app::said_by_record(answer(422, R"({"resourceType":"OperationOutcome","issue":[
    {"severity":"error","code":"invalid","expression":["Task.owner"],"details":{"coding":[{"code":"MSG_UNKNOWN","display":"Unknown reference"}]}},
    {"severity":"error","code":"required","location":["/f:Task/f:focus"]}]})"));
  EXPECT_EQ(said, "the record answered 422: invalid at Task.owner (Unknown reference), required at /f:Task/f:focus");
  EXPECT_EQ(app::for_log(said), said);
}

TEST(AnswerText, FreeTextIsKeptMaskedAndNotLogged) {
  const auto said = app::said_by_record(answer(500, R"({"resourceType":"OperationOutcome","issue":[
    {"severity":"fatal","code":"exception","diagnostics":"No bed for Testfall, Berta; called with Authorization: Bearer abc.def-123 and client_secret=hunter2hunter2"}]})"));
  EXPECT_EQ(app::for_log(said), "the record answered 500: exception");
  EXPECT_NE(said.find("No bed for Testfall"), std::string::npos) << "whoever may read the store may read this";
  EXPECT_EQ(said.find("abc.def"), std::string::npos) << said;
  EXPECT_EQ(said.find("hunter2"), std::string::npos) << said;
}

TEST(AnswerText, ThatIsNoOutcomeSaysWhatCame) {
  const auto said = app::said_by_record(answer(502, "<html><body>Bad\ngateway</body></html>", "text/html"));
  EXPECT_EQ(app::for_log(said), "the record answered 502 and no OperationOutcome (37 bytes of text/html)");
  EXPECT_EQ(said.find('\n'), std::string::npos);
  EXPECT_EQ(app::said_by_record(answer(503, "")), "the record answered 503 and nothing else");
  EXPECT_EQ(app::for_log(app::said_by_record(answer(400, R"({"resourceType":"OperationOutcome"})"))), "the record answered 400");
}

TEST(AnswerText, ManyIssuesAreCounted) {
  std::string issues;
  for (int n = 0; n < 9; ++n) issues += std::string(n ? "," : "") + R"({"severity":"error","code":"value"})";
  EXPECT_EQ(app::said_by_record(answer(400, R"({"resourceType":"OperationOutcome","issue":[)" + issues + "]}")), "the record answered 400: value, value, value and 6 more");
}

TEST(Masked, TokensKeysAndPasswords) {
  const auto masked = [](std::string_view text) { return transport::masked(text, 400); };
  EXPECT_EQ(masked("bearer xyz rest"), "bearer [masked] rest");
  EXPECT_EQ(masked(R"({"access_token":"s3cret","x":1})"), R"({"access_token":"[masked]","x":1})");
  EXPECT_EQ(masked("password = swordfish, next"), "password = [masked], next");
  EXPECT_EQ(masked("got eyJhbGciOiJSUzM4NCJ9.eyJpc3MiOiJhIn0.c2ln here"), "got [masked] here");
  EXPECT_EQ(masked("key 0123456789abcdef0123456789abcdef0123456789abcdef."), "key [masked].");
  EXPECT_EQ(masked("Task/6f1c2b9e-7a55-4b2e-9a51-0c1d2e3f4a5b is stale"), "Task/6f1c2b9e-7a55-4b2e-9a51-0c1d2e3f4a5b is stale") << "an id is no key";
  EXPECT_EQ(transport::masked("abcdef", 3), "abc...");
  EXPECT_EQ(transport::masked("ab\xC3\xA9z", 3), "ab...") << "not within a letter";
}

}  // namespace
